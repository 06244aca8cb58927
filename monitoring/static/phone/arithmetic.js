/** Numbers as people type them, and the sum of one count line. */

/** Signs that can be counted on dead or damaged trees; the lead, not the crew, assigns a cause. */
export const SIGNS = ['bitten', 'pulled', 'frost_blackened', 'smothered', 'burnt', 'mown', 'flooded', 'none_seen', 'other'];

/** The parts of a line that make up its baseline, in the order of the paper sheet. */
export const PARTS = ['alive', 'dead_stem', 'empty_spot', 'not_found', 'not_assessed'];

// First digits of the decimal sets our crews' keyboards may produce.
const ZEROS = [0x0660, 0x06f0, 0x0966, 0x09e6, 0x1040, 0xff10];

/** Replace Arabic-Indic, Devanagari, Bengali, Burmese and full-width digits by ASCII ones. */
export function asciiDigits(text) {
  return Array.from(String(text), (sign) => {
    const code = sign.codePointAt(0);
    const zero = ZEROS.find((first) => code >= first && code <= first + 9);
    return zero === undefined ? sign : String(code - zero);
  }).join('');
}

/**
 * Read a whole number from what was typed.
 *
 * Returns null for an empty field and NaN for anything that is not a whole
 * number of 0 or more: "not counted" is another answer than 0.
 */
export function wholeNumber(typed) {
  const text = asciiDigits(typed ?? '').replace(/\s/g, '');
  if (text === '') return null;
  return /^\d{1,7}$/.test(text) ? Number(text) : NaN;
}

/** Read a number with an optional decimal part, either mark accepted. */
export function decimalNumber(typed) {
  const text = asciiDigits(typed ?? '').replace(/\s/g, '').replace(',', '.');
  if (text === '') return null;
  return /^\d{1,7}(\.\d+)?$/.test(text) ? Number(text) : NaN;
}

/** The baseline of a line: the sum of its baselines' planted numbers, null when one is unknown. */
export function plantedOf(line, baselines) {
  const numbers = line.baselines.map((uid) => wholeNumber(baselines.find((one) => one.uid === uid)?.planted));
  return numbers.length === 0 || numbers.includes(null) ? null : numbers.reduce((sum, number) => sum + number, 0);
}

const known = (typed) => wholeNumber(typed) || 0;

/** Living trees taken out of a line's baselines on this sheet: removal is not death, and nobody need look for them. */
export function removedFrom(line, removals) {
  return removals.filter((row) => line.baselines.includes(row.baseline)).reduce((sum, row) => sum + known(row.alive_removed), 0);
}

/** How many trees or spots a line should add up to: planted less removed, null without a baseline. */
export function expectedOf(line, baselines, removals) {
  const planted = plantedOf(line, baselines);
  return planted === null ? null : Math.max(0, planted - removedFrom(line, removals));
}

/**
 * Add up one line against what it should come to.
 *
 * `remainder` is what "not found" stands for while it is left empty; `total`
 * includes it, so a line with an empty "not found" closes unless it is over.
 */
export function lineSum(line, expected) {
  const seen = known(line.alive) + known(line.dead_stem) + known(line.empty_spot) + known(line.not_assessed);
  const typed = wholeNumber(line.not_found);
  const remainder = expected === null ? null : Math.max(0, expected - seen);
  const notFound = typed === null || Number.isNaN(typed) ? (remainder ?? 0) : typed;
  const total = seen + notFound;
  const gap = expected === null ? 0 : expected - total;
  return { seen, remainder, notFound, total, expected, gap, closes: gap === 0 };
}

/** The next number after pressing + or −, never below 0. */
export function stepped(typed, by, empty = 0) {
  const number = wholeNumber(typed);
  return String(Math.max(0, (number === null || Number.isNaN(number) ? empty : number) + by));
}
