/** Check your answers, then save. The form is only cleared once the phone holds the count. */

import { PARTS, SIGNS, expectedOf, lineSum, plantedOf, wholeNumber } from '../arithmetic.js';
import { hints, problems } from '../checks.js';
import { button, h, heading } from '../dom.js';
import { draftKey } from '../draft.js';
import { dayInWords } from '../dates.js';
import { routes } from '../routes.js';
import { baselineWords, lineTitle } from '../words.js';
import { labelKey } from './count_line.js';

const RARER = ['seedlings', 'resprout', 'origin_uncertain'];

function answer(label, value) {
  return h('div', { class: 'answer' }, h('dt', {}, label), h('dd', {}, String(value)));
}

function lineAnswers(t, line, expected) {
  const sum = lineSum(line, expected);
  const shown = (key) => (key === 'not_found' ? sum.notFound : wholeNumber(line[key]) ?? 0);
  const always = PARTS.filter((key) => key !== 'not_assessed' || shown(key) > 0);
  const rare = RARER.filter((key) => wholeNumber(line[key]) !== null);
  const signs = SIGNS.filter((sign) => wholeNumber(line.signs[sign]) > 0);
  return [
    ...[...always, ...rare].map((key) => answer(t(labelKey(key, line.unit)), shown(key))),
    ...signs.map((sign) => answer(t(`sign_${sign}`), wholeNumber(line.signs[sign]))),
    line.heights_cm && answer(t('heights_cm'), line.heights_cm),
    line.spots.length > 0 && answer(t('spots_title'), line.spots.map((row) => `${row.spot} ${t(`spot_${row.status}`)}`).join(', ')),
  ];
}

function lineSection(phone, draft, index, baselines, found) {
  const { t } = phone;
  const line = draft.lines[index];
  const planted = plantedOf(line, baselines);
  const { common, cohorts } = lineTitle(phone, line, baselines);
  return h('section', { class: 'sheet' }, h('h2', {}, [common, cohorts].filter(Boolean).join(' · ')),
    h('p', { class: 'hint' }, baselineWords(t, line, baselines, planted)),
    h('dl', {}, lineAnswers(t, line, expectedOf(line, baselines, draft.removals))),
    found.filter((hint) => hint.line === index).map((hint) => h('p', { class: 'warns' }, t(hint.key, hint.values))));
}

function regenerationSection(phone, draft) {
  const { t } = phone;
  const name = (row) => (row.species ? phone.speciesName(row.species).common : row.name);
  const rows = draft.regeneration.flatMap((row) => ['lower', 'upper'].filter((height) => row[height] !== '')
    .map((height) => answer(`${name(row)}, ${t(`height_${height}`)}`, row[height] + (row[`${height}_capped`] ? '+' : ''))));
  return rows.length > 0 && h('section', { class: 'sheet' }, h('h2', {}, t('regeneration_title')), h('dl', {}, rows));
}

function removalSection(phone, draft, baselines) {
  const { t, language } = phone;
  const rows = draft.removals.filter((row) => row.alive_removed !== '').map((row) => {
    const species = baselines.find((one) => one.uid === row.baseline)?.species;
    return answer(`${phone.speciesName(species).common}, ${t(`removal_${row.reason}`)}, ${dayInWords(row.removed_on, language)}`, row.alive_removed);
  });
  return rows.length > 0 && h('section', { class: 'sheet' }, h('h2', {}, t('removals_title')), h('dl', {}, rows));
}

export async function reviewScreen(phone, [roundUid, plotUid]) {
  const { t, language } = phone;
  const { round, plot } = phone.find(roundUid, plotUid);
  const draft = await phone.store.draft(draftKey(roundUid, plotUid));
  if (!draft || problems(draft).length > 0) return phone.go(routes.count(roundUid, plotUid));
  const baselines = [...plot.baselines, ...draft.baselines];
  const found = hints(draft, { baselines: plot.baselines, round, today: phone.today() });
  return [
    h('p', {}, h('a', { class: 'quiet', href: routes.count(roundUid, plotUid) }, t('change_answers'))),
    heading(t('review_title')),
    h('p', {}, h('b', {}, plot.name), `, ${plot.block.name}`, h('br'), t('observed_on'), ': ', dayInWords(draft.observed_on, language)),
    found.filter((hint) => hint.line === undefined).map((hint) => h('p', { class: 'warns' }, t(hint.key, hint.values))),
    draft.lines.map((line, index) => lineSection(phone, draft, index, baselines, found)),
    regenerationSection(phone, draft),
    removalSection(phone, draft, baselines),
    draft.note.trim() && h('section', { class: 'sheet' }, h('h2', {}, t('note')), h('p', {}, draft.note)),
    found.length > 0 && h('p', {}, t('hints_may_stand')),
    button(t('save_here'), () => phone.save(draft), { class: 'primary' }),
  ];
}
