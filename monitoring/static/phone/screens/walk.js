/** Walk through a block and write down what should not be so. Nothing seen is a full answer of one tap. */

import { button, h, heading, labelled, select } from '../dom.js';
import { dayField, noteField, textField } from '../fields.js';
import { routes } from '../routes.js';
import { URGENCIES, WALK_SIGNS, emptySign, newWalk, picturesOf } from '../work_draft.js';
import { photoPart } from './photo_part.js';
import { backTo, cautions, workForm, workList } from './work_parts.js';

export function blocksScreen(phone) {
  return workList(phone, {
    kind: 'walk', rows: phone.pack?.work?.blocks ?? [], title: 'blocks_title', route: routes.walk, words: (block) => [block.name, block.site.name],
  });
}

/** Where the sign is, from the phone's own receiver; only when asked for, rounded to about a tenth of a metre. */
function placePart(phone, row, changed) {
  const { t } = phone;
  const said = h('p', { role: 'status' });
  const tell = () => { said.textContent = row.place ? t('position_added', { accuracy: Math.round(row.place.accuracy_m) }) : ''; };
  const rounded = (degrees) => Number(degrees.toFixed(6));
  const add = () => new Promise((done) => navigator.geolocation.getCurrentPosition(({ coords }) => {
    row.place = { latitude: rounded(coords.latitude), longitude: rounded(coords.longitude), accuracy_m: Math.round(coords.accuracy) };
    changed();
    tell();
    done();
  }, () => { said.textContent = t('place_failed'); done(); }, { enableHighAccuracy: true, timeout: 30_000 }));
  tell();
  return h('div', { class: 'field' }, button(t('place_add'), add, { class: 'quiet' }), said);
}

function signPart(phone, { draft, row, index, changed, drop }) {
  const { t } = phone;
  const set = (key) => (value) => { row[key] = value; changed(); };
  const signs = [['', t('choose_sign')], ...WALK_SIGNS.map((sign) => [sign, t(`seen_${sign}`)])];
  return h('fieldset', { class: 'line' }, h('legend', {}, h('b', {}, `${t('add_sign')} ${index + 1}`)),
    labelled(`sign-${index}`, t('what_seen'), select(signs, row.sign, set('sign'))),
    labelled(`urgency-${index}`, t('how_soon'), select(URGENCIES.map((one) => [one, t(`urgency_${one}`)]), row.urgency, set('urgency'))),
    textField({ id: `where-${index}`, label: t('where'), value: row.where, hint: t('where_hint'), onchange: set('where') }),
    placePart(phone, row, changed),
    textField({ id: `sign-note-${index}`, label: t('note'), value: row.note, hint: t('note_hint'), onchange: set('note') }),
    photoPart(phone, { id: `photo-${index}`, draft, row, changed }),
    button(t('drop_row'), drop, { class: 'quiet' }));
}

/** The signs, and below them the one button that fits: nothing seen, or save. */
function signsPart(phone, form) {
  const { t } = phone;
  const { draft, changed } = form;
  const list = h('div', {});
  const ways = h('div', { class: 'stack' });
  const drop = (index) => async () => {
    const [gone] = draft.signs.splice(index, 1);
    changed();
    draw();
    const kept = picturesOf(draft);
    for (const sha256 of gone.photos) if (!draft.replaces && !kept.includes(sha256)) await phone.store.dropPicture(sha256);
    await phone.tell();
  };
  const add = () => {
    draft.signs.push(emptySign());
    changed();
    draw();
    document.getElementById(`sign-${draft.signs.length - 1}`).focus();
  };
  const draw = () => {
    list.replaceChildren(...draft.signs.map((row, index) => signPart(phone, { draft, row, index, changed, drop: drop(index) })));
    const some = draft.signs.length > 0;
    const finish = button(t(some ? 'save_here' : 'nothing_seen'), form.save, { class: 'primary' });
    const more = button(t('add_sign'), add, { class: 'quiet' });
    ways.replaceChildren(...(some ? [more, finish] : [finish, more]));
  };
  draw();
  return [list, ways];
}

export async function walkScreen(phone, [uid]) {
  const { t } = phone;
  const block = await phone.begunAbout('walk', uid);
  if (!block) return phone.go(routes.blocks());
  const form = await workForm(phone, { kind: 'walk', subject: uid, back: routes.blocks(), begin: () => newWalk(block, { today: phone.today() }) });
  const { draft, changed } = form;
  const set = (key) => (value) => { draft[key] = value; changed(); };
  const [signs, ways] = signsPart(phone, form);
  return [
    backTo(phone, routes.blocks(), 'blocks_title'),
    heading(block.name),
    h('p', { class: 'hint' }, block.site.name),
    cautions(phone, block),
    form.before,
    form.summary,
    dayField({ id: 'walked_on', label: t('walked_on'), value: draft.walked_on, onchange: set('walked_on') }),
    signs,
    ways,
    noteField({ id: 'note', label: t('note'), value: draft.note, hint: t('note_hint'), onchange: set('note') }),
    form.end,
    h('div', { class: 'stack' }, form.discard),
  ];
}
