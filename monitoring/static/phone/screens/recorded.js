/** A record of field work is on this phone; sent when it is sent, and its pictures after it. */

import { button, h, heading } from '../dom.js';
import { timeInWords } from '../dates.js';
import { routes } from '../routes.js';
import { workName } from '../words.js';
import { fate } from './saved.js';

const LISTS = { handover: 'lots', walk: 'blocks', care: 'tasks' };

/** What has become of a record and of its pictures. */
async function told(phone, id) {
  const { t, language } = phone;
  const item = await phone.store.item(id);
  const pictures = await phone.store.countPictures(id);
  return [fate(t, language, item), pictures > 0 && t('pictures_to_send', { count: pictures })].filter(Boolean).join(' · ');
}

export async function recordedScreen(phone, [id]) {
  const { t, language } = phone;
  const item = await phone.store.item(id);
  if (!item || !(item.kind in LISTS)) return phone.go(routes.plots());
  const said = h('p', { role: 'status', class: 'fate' }, await told(phone, id));
  const help = h('div', { class: 'stack', hidden: item.state !== 'needs_help' }, button(t('record_mend'), () => phone.mend(item), { class: 'primary' }));
  phone.onSent = async () => {
    said.textContent = await told(phone, id);
    help.hidden = (await phone.store.item(id)).state !== 'needs_help';
  };
  return [
    heading(t('saved_title', { time: timeInWords(item.saved_at, language) })),
    h('p', {}, h('b', {}, workName(phone, item))),
    said,
    help,
    h('div', { class: 'stack' },
      h('a', { class: 'primary', href: routes[LISTS[item.kind]]() }, t('next_one')),
      h('a', { class: 'quiet', href: routes.plots() }, t('back_to_start'))),
  ];
}
