/** Look at a lot where it changes hands, and say whether its plants may go on. */

import { button, h, heading } from '../dom.js';
import { dayInWords, instantWithOffset } from '../dates.js';
import { choices, noteField, numberField, textField } from '../fields.js';
import { routes } from '../routes.js';
import { POINTS, ROOTS, VERDICTS, newHandover } from '../work_draft.js';
import { photoPart } from './photo_part.js';
import { backTo, workForm, workList } from './work_parts.js';

const named = (t, family, words) => words.map((word) => [word, t(`${family}_${word}`)]);

/** What the list says of a lot: species, how many are here, when it was last looked at. */
function lotWords(phone, lot) {
  const { t, language } = phone;
  const last = lot.last_check && t('last_check', { day: dayInWords(lot.last_check.checked_on, language), verdict: t(`verdict_${lot.last_check.verdict}`) });
  return [lot.code, [phone.speciesName(lot.species).common, t('at_hand', { count: lot.at_hand }), last].filter(Boolean).join(' · ')];
}

export function lotsScreen(phone) {
  return workList(phone, {
    kind: 'handover', rows: phone.pack?.work?.lots ?? [], title: 'lots_title', route: routes.check, words: (lot) => lotWords(phone, lot),
  });
}

function lotFacts(phone, lot) {
  const { t } = phone;
  const stated = lot.stated ?? null;
  return h('div', {}, h('p', {}, lotWords(phone, lot)[1]),
    stated !== null && h('p', {}, t('stated_on_note', { count: stated })));
}

function samplePart(phone, draft, { number, text }) {
  const { t } = phone;
  return h('details', { open: ['sample_size', 'heights_cm', 'collars_mm'].some((key) => draft[key] !== '') }, h('summary', {}, t('sample_title')),
    h('p', { class: 'hint' }, t('sample_hint')), number('sample_size'), number('sample_bad'), text('heights_cm'), text('collars_mm'));
}

export async function checkScreen(phone, [uid]) {
  const { t } = phone;
  const lot = await phone.begunAbout('handover', uid);
  if (!lot) return phone.go(routes.lots());
  const form = await workForm(phone, { kind: 'handover', subject: uid, back: routes.lots(), begin: () => newHandover(lot, { at: instantWithOffset() }) });
  const { draft, changed } = form;
  const set = (key) => (value) => { draft[key] = value; changed(); };
  const hints = { box_temperature_c: 'box_hint', heights_cm: 'sample_heights_hint', collars_mm: 'collars_hint', because: 'no_names' };
  const common = (key) => ({ id: key, label: t(`check_${key}`), value: draft[key], hint: hints[key] ? t(hints[key]) : null, onchange: set(key) });
  const number = (key) => numberField({ ...common(key), say: t });
  const text = (key) => textField(common(key));
  return [
    backTo(phone, routes.lots(), 'lots_title'),
    heading(lot.code),
    lotFacts(phone, lot),
    form.before,
    form.summary,
    choices({ ...common('point'), options: named(t, 'point', POINTS) }),
    number('counted'),
    text('box_temperature_c'),
    number('minutes_exposed'),
    choices({ ...common('root_condition'), options: named(t, 'root', ROOTS) }),
    samplePart(phone, draft, { number, text }),
    photoPart(phone, { id: 'photo', draft, changed }),
    choices({ ...common('verdict'), hint: t('verdict_hint'), options: named(t, 'verdict', VERDICTS) }),
    text('because'),
    noteField({ id: 'note', label: t('note'), value: draft.note, hint: t('note_hint'), onchange: set('note') }),
    form.end,
    h('div', { class: 'stack' }, button(t('save_here'), form.save, { class: 'primary' }), form.discard),
  ];
}
