/** What stops a record of field work from being saved: little, and each with the field it is about. */

import { decimalNumber, wholeNumber } from './arithmetic.js';
import { isDay } from './dates.js';
import { measures, temperature } from './work_record.js';

const wrong = (field, key, values = {}) => ({ field, key, values });
const outside = (number, least, most) => number !== null && !(number >= least && number <= most);

function sampleProblems({ sample_size: size, sample_bad: bad }) {
  const [looked, unfit] = [wholeNumber(size), wholeNumber(bad)];
  if (looked === null && unfit === null) return [];
  return looked >= 1 && unfit !== null && unfit <= looked ? [] : [wrong('sample_bad', 'error_sample')];
}

function measureProblems({ heights_cm: tall, collars_mm: thick }) {
  const [heights, collars] = [measures(tall), measures(thick)];
  if (heights.length > 500 || heights.some((one) => outside(one, 0.1, 9999))) return [wrong('heights_cm', 'error_measures')];
  const uneven = heights.length > 0 && collars.length > 0 && heights.length !== collars.length;
  if (uneven) return [wrong('collars_mm', 'error_uneven', { heights: heights.length, collars: collars.length })];
  return collars.length > 500 || collars.some((one) => outside(one, 0.1, 999)) ? [wrong('collars_mm', 'error_measures')] : [];
}

function handoverProblems(draft) {
  const found = ['counted', 'minutes_exposed', 'sample_size', 'sample_bad'].filter((key) => Number.isNaN(wholeNumber(draft[key])))
    .map((key) => wrong(key, 'error_whole', { typed: draft[key] }));
  if (found.length === 0) found.push(...sampleProblems(draft));
  if (wholeNumber(draft.counted) > 1_000_000) found.push(wrong('counted', 'error_whole', { typed: draft.counted }));
  if (wholeNumber(draft.minutes_exposed) > 10_080) found.push(wrong('minutes_exposed', 'error_whole', { typed: draft.minutes_exposed }));
  if (outside(temperature(draft.box_temperature_c), -100, 100)) found.push(wrong('box_temperature_c', 'error_temperature'));
  found.push(...measureProblems(draft));
  if (draft.verdict === '') found.push(wrong('verdict', 'error_verdict'));
  if (['hold', 'reject'].includes(draft.verdict) && !draft.because.trim()) found.push(wrong('because', 'error_because'));
  return found;
}

function walkProblems(draft) {
  const unnamed = draft.signs.flatMap((row, index) => (row.sign === '' ? [wrong(`sign-${index}`, 'error_sign')] : []));
  return [...(isDay(draft.walked_on) ? [] : [wrong('walked_on', 'error_day')]), ...unnamed];
}

function careProblems(draft, today) {
  if (draft.outcome === 'done') {
    const found = isDay(draft.done_on) ? [] : [wrong('done_on', 'error_day')];
    return outside(decimalNumber(draft.amount), 0, 1e9) ? [...found, wrong('amount', 'error_number')] : found;
  }
  const found = isDay(draft.until) && draft.until >= today ? [] : [wrong('until', 'error_until')];
  return draft.because.trim() ? found : [...found, wrong('because', 'error_because')];
}

/** Everything that must be mended before this draft can be saved. */
export function workProblems(draft, today) {
  if (draft.kind === 'handover') return handoverProblems(draft);
  return draft.kind === 'walk' ? walkProblems(draft) : careProblems(draft, today);
}
