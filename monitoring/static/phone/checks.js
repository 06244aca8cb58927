/** What stops a count from being saved (little), and what is only worth a second look (never blocks). */

import { SIGNS, decimalNumber, expectedOf, lineSum, wholeNumber } from './arithmetic.js';
import { isDay } from './dates.js';
import { heights } from './visit.js';

const WHOLE = ['dead_stem', 'empty_spot', 'not_found', 'not_assessed', 'resprout', 'origin_uncertain', 'seedlings'];
const TALLEST_CM = 5000;

/** The id of a field on the count screen, shared by the form and its error list. */
export const fieldId = (...parts) => `field-${parts.join('-')}`;

function wrong(field, key, values = {}) {
  return { field, key, values };
}

function wholeProblems(fields) {
  return fields.filter(([, typed]) => Number.isNaN(wholeNumber(typed)))
    .map(([field, typed]) => wrong(field, 'error_whole', { typed: String(typed) }));
}

function lineProblems(line, index) {
  const found = [];
  if (wholeNumber(line.alive) === null) found.push(wrong(fieldId('line', index, 'alive'), `error_alive_empty_${line.unit}`));
  const fields = ['alive', ...WHOLE].map((key) => [fieldId('line', index, key), line[key]]);
  const signs = SIGNS.map((sign) => [fieldId('line', index, 'sign', sign), line.signs?.[sign]]);
  found.push(...wholeProblems([...fields, ...signs]));
  if (heights(line.heights_cm).some(Number.isNaN)) found.push(wrong(fieldId('line', index, 'heights_cm'), 'error_heights'));
  return found.map((problem) => ({ ...problem, line: index }));
}

function regenerationProblems(row, index) {
  const at = (key) => fieldId('regeneration', index, key);
  const found = wholeProblems([[at('lower'), row.lower], [at('upper'), row.upper]]);
  if (Number.isNaN(decimalNumber(row.subplot_area_m2))) found.push(wrong(at('subplot_area_m2'), 'error_number'));
  if (row.lower + row.upper !== '' && !row.species && !row.name.trim()) found.push(wrong(at('species'), 'error_species'));
  return found;
}

function removalProblems(row, index) {
  const at = (key) => fieldId('removal', index, key);
  if (row.alive_removed === '') return [];
  const found = wholeProblems([[at('alive_removed'), row.alive_removed]]);
  if (!isDay(row.removed_on)) found.push(wrong(at('removed_on'), 'error_day'));
  return found;
}

/** Everything that must be mended before this draft can be saved. */
export function problems(draft) {
  const found = isDay(draft.observed_on) ? [] : [wrong(fieldId('observed_on'), 'error_day')];
  if (draft.status !== 'counted') return found;
  return [
    ...found,
    ...wholeProblems(draft.baselines.map((one, index) => [fieldId('baseline', index, 'planted'), one.planted])),
    ...draft.lines.flatMap(lineProblems),
    ...draft.regeneration.flatMap(regenerationProblems),
    ...draft.removals.flatMap(removalProblems),
  ];
}

/** Whether one line adds up: null when it does or when there is nothing to add up to. */
export function sumHint(line, expected) {
  const sum = lineSum(line, expected);
  if (expected === null || sum.closes) return null;
  return { key: sum.gap < 0 ? 'hint_over' : 'hint_open', values: { total: sum.total, expected, gap: Math.abs(sum.gap) } };
}

const above = (line, part, whole) => (wholeNumber(line[part]) || 0) > (wholeNumber(line[whole]) || 0);

function lineHints(line, expected) {
  const signs = SIGNS.reduce((sum, sign) => sum + (wholeNumber(line.signs?.[sign]) || 0), 0);
  const seen = ['alive', 'dead_stem', 'empty_spot'].reduce((sum, part) => sum + (wholeNumber(line[part]) || 0), 0);
  return [
    sumHint(line, expected),
    above(line, 'resprout', 'alive') && { key: 'hint_resprout', values: {} },
    above(line, 'origin_uncertain', 'alive') && { key: 'hint_origin', values: {} },
    line.unit === 'seed_spot' && line.seedlings !== '' && above(line, 'alive', 'seedlings') && { key: 'hint_seedlings', values: {} },
    signs > seen && { key: 'hint_signs', values: {} },
    heights(line.heights_cm).some((height) => height === 0 || height > TALLEST_CM) && { key: 'hint_heights', values: {} },
  ].filter(Boolean);
}

function dayHints(draft, round, today) {
  if (draft.observed_on > today) return [{ key: 'hint_future', values: {} }];
  const outside = (round.opens_on && draft.observed_on < round.opens_on) || (round.closes_on && draft.observed_on > round.closes_on);
  return outside ? [{ key: 'hint_outside_round', values: {} }] : [];
}

/** Everything worth a second look. `line` tells which line a hint belongs to. */
export function hints(draft, { baselines, round, today }) {
  const day = dayHints(draft, round, today);
  if (draft.status !== 'counted') return day;
  const known = [...baselines, ...draft.baselines];
  const lines = draft.lines.flatMap((line, index) => lineHints(line, expectedOf(line, known, draft.removals)).map((hint) => ({ ...hint, line: index })));
  return [...day, ...lines];
}
