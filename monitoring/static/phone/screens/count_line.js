/** One line of the sheet: one baseline, common answers first, the rarer ones behind "More". */

import { PARTS, SIGNS, expectedOf, lineSum, plantedOf } from '../arithmetic.js';
import { fieldId, sumHint } from '../checks.js';
import { button, h, labelled, select } from '../dom.js';
import { emptySpot } from '../draft.js';
import { numberField, textField } from '../fields.js';
import { baselineWords, lineTitle } from '../words.js';

const SPOT_STATUS = ['alive', 'dead_stem', 'empty_spot', 'not_found', 'not_assessed'];

/** The sum of a line in words, said aloud as it changes. */
function sumText(t, line, expected) {
  if (!PARTS.some((part) => line[part])) return { text: '', warns: false };
  const sum = lineSum(line, expected);
  if (expected === null) return { text: t('sum_no_baseline', { total: sum.total }), warns: false };
  const hint = sumHint(line, expected);
  return hint ? { text: t(hint.key, hint.values), warns: true } : { text: t('sum_closes', { seen: sum.seen, notFound: sum.notFound, expected }), warns: false };
}

function spotRows(phone, line, index, changed) {
  const { t } = phone;
  const rows = h('div', {});
  const draw = () => rows.replaceChildren(...line.spots.map((row, at) => h('div', { class: 'pair' },
    textField({ id: fieldId('line', index, 'spot', at), label: t('spot_tag'), value: row.spot, onchange: (value) => { row.spot = value; changed(); } }),
    labelled(fieldId('line', index, 'spot_status', at), t('spot_status'), select(SPOT_STATUS.map((status) => [status, t(`spot_${status}`)]), row.status, (value) => { row.status = value; changed(); })))));
  draw();
  const add = () => {
    line.spots.push(emptySpot());
    draw();
    changed();
    document.getElementById(fieldId('line', index, 'spot', line.spots.length - 1)).focus();
  };
  return h('div', {}, h('h4', {}, t('spots_title')), h('p', { class: 'hint' }, t('spots_hint')), rows, button(t('add_spot'), add, { class: 'quiet' }));
}

function moreFields(phone, line, index, changed, number) {
  const { t } = phone;
  const sign = (name) => numberField({ id: fieldId('line', index, 'sign', name), label: t(`sign_${name}`), value: line.signs[name] ?? '', say: t, onchange: (value) => { line.signs[name] = value; changed(); } });
  return h('details', { open: isUsed(line) },
    h('summary', {}, t('more')),
    number('not_assessed', { hint: t('not_assessed_hint') }),
    number('resprout', { hint: t('resprout_hint') }),
    number('origin_uncertain', { hint: t('origin_uncertain_hint') }),
    line.unit === 'seed_area' && number('seedlings'),
    h('fieldset', {}, h('legend', {}, t('signs_title')), h('p', { class: 'hint' }, t('signs_hint')), SIGNS.map(sign)),
    textField({ id: fieldId('line', index, 'heights_cm'), label: t('heights_cm'), value: line.heights_cm, hint: t('heights_hint'), inputmode: 'text', onchange: (value) => { line.heights_cm = value; changed(); } }),
    spotRows(phone, line, index, changed));
}

const isUsed = (line) => Boolean(line.not_assessed || line.resprout || line.origin_uncertain || line.heights_cm || line.spots.length || Object.values(line.signs).some(Boolean));

/**
 * Draw one line and return its element and `retell`, which says its sum anew
 * (also called when a removal changes what the line should come to).
 */
export function countLine(phone, { line, index, baselines, removals, canMerge, changed, merge, split }) {
  const { t } = phone;
  const planted = plantedOf(line, baselines);
  const expected = () => expectedOf(line, baselines, removals);
  const { common, scientific, cohorts } = lineTitle(phone, line, baselines);
  const sum = h('p', { role: 'status', class: 'sum' });
  const rest = h('p', { class: 'hint', id: `${fieldId('line', index, 'not_found')}-hint` });
  const retell = () => {
    const { text, warns } = sumText(t, line, expected());
    sum.textContent = text;
    sum.hidden = text === '';
    sum.classList.toggle('warns', warns);
    rest.textContent = planted === null ? t('not_found_hint_open') : t('not_found_hint', { rest: lineSum(line, expected()).remainder });
  };
  const tell = () => { retell(); changed(); };
  const number = (key, more = {}) => numberField({ id: fieldId('line', index, key), label: t(labelKey(key, line.unit)), value: line[key], say: t, onchange: (value) => { line[key] = value; tell(); }, ...more });
  const notFound = number('not_found', { hint: ' ', empty: () => lineSum(line, expected()).remainder ?? 0 });
  notFound.querySelector('.hint').replaceWith(rest);
  retell();
  const element = h('fieldset', { class: 'line' },
    h('legend', {}, h('b', {}, common), scientific && h('i', { lang: 'la' }, ` ${scientific}`), cohorts && h('span', {}, ` · ${cohorts}`),
      h('span', { class: 'planted' }, baselineWords(t, line, baselines, planted))),
    number('alive', { hint: t(`alive_hint_${line.unit}`) }),
    line.unit === 'seed_spot' && number('seedlings', { hint: t('seedlings_hint') }),
    number('dead_stem'), number('empty_spot', { hint: t('empty_spot_hint') }), notFound,
    sum,
    moreFields(phone, line, index, tell, number),
    canMerge && button(t('merge_lines'), merge, { class: 'quiet' }),
    line.baselines.length > 1 && button(t('split_line'), split, { class: 'quiet' }));
  return { element, retell };
}

/** Seed spots are occupied, not alive: their labels say so. */
export const labelKey = (key, unit) => (key === 'alive' ? `alive_${unit}` : key);
