/** The count screen, in the order of the paper sheet. Every change is kept at once as a draft. */

import { fieldId, problems } from '../checks.js';
import { button, h, heading } from '../dom.js';
import { draftKey, emptyLine, isTouched, mergeLines, splitLine } from '../draft.js';
import { dayInWords } from '../dates.js';
import { dayField } from '../fields.js';
import { uuid7 } from '../identifiers.js';
import { routes } from '../routes.js';
import { countLine } from './count_line.js';
import { errorSummary, showProblems } from './error_list.js';
import { addPlanting, regenerationPart, removalPart } from './count_more.js';

function positionPart(phone, draft, changed) {
  const { t } = phone;
  const said = h('p', { role: 'status' });
  const tell = () => { said.textContent = draft.position ? t('position_added', { accuracy: Math.round(draft.position.accuracy_m) }) : ''; };
  const add = () => new Promise((done) => navigator.geolocation.getCurrentPosition(({ coords }) => {
    draft.position = { latitude: coords.latitude, longitude: coords.longitude, accuracy_m: coords.accuracy };
    changed();
    tell();
    done();
  }, () => { said.textContent = t('position_failed'); done(); }, { enableHighAccuracy: true, timeout: 30_000 }));
  tell();
  return h('div', { class: 'field' }, h('p', { class: 'hint' }, t('position_hint')), button(t('position_add'), add, { class: 'quiet' }), said);
}

/** The date of observation, repeated in words: a person notices 1970 where a clock does not. */
function dayPart(phone, draft, changed) {
  const { t, language } = phone;
  const words = () => t(draft.observed_on === phone.today() ? 'observed_today' : 'observed_other', { day: dayInWords(draft.observed_on, language) });
  const field = dayField({ id: fieldId('observed_on'), label: t('observed_on'), value: draft.observed_on, hint: words(), onchange: (value) => {
    draft.observed_on = value;
    field.querySelector('.hint').textContent = words();
    changed();
  } });
  return field;
}

function notePart(phone, draft, changed) {
  const box = h('textarea', { id: 'note', rows: '3', 'aria-describedby': 'note-hint', oninput: () => { draft.note = box.value; changed(); } });
  box.value = draft.note;
  return h('div', { class: 'field' }, h('label', { for: 'note' }, phone.t('note')), h('p', { class: 'hint', id: 'note-hint' }, phone.t('note_hint')), box);
}

/** The lines of the sheet, drawn again only when a line comes, goes or joins another. */
function linesPart(phone, { draft, plot, round, changed }) {
  const box = h('div', {});
  const restructure = (lines) => { draft.lines = lines; changed(); draw(); };
  const add = ({ species, planted, source }) => {
    const baseline = { uid: uuid7(), species, cohort: null, planted, unit: plot.unit, source, counted_on: draft.observed_on };
    draft.baselines.push(baseline);
    restructure([...draft.lines, emptyLine([baseline])]);
    document.getElementById(fieldId('line', draft.lines.length - 1, 'alive')).focus();
  };
  let lines = [];
  const draw = () => {
    const baselines = [...plot.baselines, ...draft.baselines];
    const twins = (line) => draft.lines.filter((other) => other.species === line.species && other.unit === line.unit).length > 1;
    lines = draft.lines.map((line, index) => countLine(phone, {
      line, index, baselines, removals: draft.removals, canMerge: twins(line), changed,
      merge: () => restructure(mergeLines(draft.lines, index)), split: () => { if (!isTouched(line) || confirm(phone.t('split_ask'))) restructure(splitLine(draft.lines, index)); },
    }));
    box.replaceChildren(...lines.map(({ element }) => element), addPlanting(phone, { round, add }));
  };
  draw();
  return { box, retell: () => lines.forEach(({ retell }) => retell()) };
}

export async function countScreen(phone, [roundUid, plotUid]) {
  const { t } = phone;
  const { round, plot } = phone.find(roundUid, plotUid);
  const draft = await phone.store.draft(draftKey(roundUid, plotUid));
  if (!draft) return phone.go(routes.plot(roundUid, plotUid));
  const changed = () => phone.keepDraft(draft);
  const sheet = linesPart(phone, { draft, plot, round, changed });
  const removed = () => { sheet.retell(); changed(); };
  const summary = errorSummary();
  const check = async () => {
    const found = problems(draft);
    showProblems(phone, summary, found, ({ line }) => (line === undefined ? '' : `${phone.speciesName(draft.lines[line].species).common}: `));
    await phone.draftKept();
    if (found.length === 0) phone.go(routes.review(roundUid, plotUid));
  };
  const discard = async () => {
    if (!confirm(t('discard_ask', { plot: plot.name }))) return;
    await phone.dropDraft(draft.key);
    phone.go(routes.plot(roundUid, plotUid));
  };
  return [
    h('p', {}, h('a', { class: 'quiet', href: routes.plot(roundUid, plotUid) }, t('put_aside'))),
    heading(plot.name),
    h('p', { class: 'hint' }, `${plot.block.name}, ${plot.site.name}`),
    draft.parents.length > 0 && h('p', { class: 'notice' }, t('correcting')),
    summary,
    dayPart(phone, draft, changed),
    sheet.box,
    regenerationPart(phone, { draft, round, changed }),
    removalPart(phone, { draft, baselines: plot.baselines, changed: removed }),
    notePart(phone, draft, changed),
    positionPart(phone, draft, changed),
    h('p', { class: 'hint' }, t('draft_kept')),
    h('div', { class: 'stack' }, button(t('check_answers'), check, { class: 'primary' }), button(t('discard'), discard, { class: 'quiet' })),
  ];
}
