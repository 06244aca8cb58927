/** Take pictures for a record: kept on the phone at once, without place, and shown small. */

import { button, h } from '../dom.js';
import { MOST_PICTURES, drawnSize } from '../pictures.js';
import { picturesOf } from '../work_draft.js';

const SMALL = 160;

async function drawSmall(phone, canvas, sha256) {
  const picture = await phone.store.picture(sha256);
  if (!picture) return;
  const bitmap = await createImageBitmap(new Blob([picture.bytes], { type: 'image/jpeg' }));
  [canvas.width, canvas.height] = drawnSize(bitmap.width, bitmap.height, SMALL);
  canvas.getContext('2d').drawImage(bitmap, 0, 0, canvas.width, canvas.height);
  bitmap.close();
}

/** `row` is what the pictures belong to: the draft itself, or one sign of it. */
export function photoPart(phone, { id, draft, row = draft, changed }) {
  const { t } = phone;
  const said = h('p', { role: 'status' });
  const list = h('ul', { class: 'plain pictures' });
  const drop = async (sha256) => {
    row.photos = row.photos.filter((one) => one !== sha256);
    changed();
    redraw();
    if (!draft.replaces && !picturesOf(draft).includes(sha256)) await phone.store.dropPicture(sha256);
    await phone.tell();
  };
  const redraw = () => {
    taking.hidden = row.photos.length >= MOST_PICTURES;
    list.replaceChildren(...row.photos.map(small));
  };
  const small = (sha256, index) => {
    const canvas = h('canvas', { role: 'img', 'aria-label': `${t('pictures_title')} ${index + 1}`, width: SMALL, height: SMALL });
    drawSmall(phone, canvas, sha256).catch(() => {});
    return h('li', {}, canvas, button(t('picture_drop'), () => drop(sha256), { class: 'quiet', 'aria-label': `${t('picture_drop')}: ${index + 1}` }));
  };
  const take = async (file) => {
    said.textContent = t('picture_working');
    try {
      const sha256 = await phone.takePicture(draft, file);
      if (!row.photos.includes(sha256)) row.photos.push(sha256);
      changed();
      await phone.draftKept();
      said.textContent = t('picture_kept');
    } catch (error) {
      said.textContent = t(error?.name === 'QuotaExceededError' ? 'picture_no_room' : 'picture_failed');
    }
    redraw();
  };
  const box = h('input', { id, type: 'file', accept: 'image/*', capture: 'environment', class: 'visually-hidden', onchange: async () => {
    const [file] = box.files;
    box.value = '';
    if (file) await take(file);
  } });
  const taking = h('label', { for: id, class: 'picture' }, t('picture_take'), box);
  redraw();
  return h('div', { class: 'field' }, taking, h('p', { class: 'hint' }, t('picture_hint')), list, said);
}
