/** The body of a visit as it is sent and hashed: schema visit/1. Pure, apart from the digest. */

import { SIGNS, decimalNumber, plantedOf, wholeNumber } from './arithmetic.js';
import { sha256 } from './identifiers.js';

export const SCHEMA = 'visit/1';

const count = (typed) => wholeNumber(typed) ?? 0;

/** Signs with a number above 0, in the order of the sheet. */
function signs(typed = {}) {
  return Object.fromEntries(SIGNS.map((sign) => [sign, count(typed[sign])]).filter(([, number]) => number > 0));
}

/** The heights typed in one field, separated by spaces, commas or semicolons. */
export function heights(typed) {
  return String(typed ?? '').split(/[\s,;]+/).filter(Boolean).map(wholeNumber);
}

/** Keys that are only written when they carry something, so that a count stays small on a slow link. */
function rarer(line) {
  const written = {};
  for (const key of ['resprout', 'origin_uncertain']) if (count(line[key]) > 0) written[key] = count(line[key]);
  if (wholeNumber(line.seedlings) !== null) written.seedlings = wholeNumber(line.seedlings);
  if (Object.keys(signs(line.signs)).length > 0) written.signs = signs(line.signs);
  if (heights(line.heights_cm).length > 0) written.heights_cm = heights(line.heights_cm);
  const spots = (line.spots ?? []).filter((row) => row.spot.trim());
  if (spots.length > 0) written.spots = spots.map(({ spot, status }) => ({ spot: spot.trim(), status }));
  return written;
}

function lineBody(line) {
  return {
    baselines: line.baselines, species: line.species, unit: line.unit,
    alive: count(line.alive), dead_stem: count(line.dead_stem), empty_spot: count(line.empty_spot),
    not_found: wholeNumber(line.not_found), not_assessed: count(line.not_assessed), ...rarer(line),
  };
}

/** A destroyed plot is a visit with 0 alive, and nothing left to look for. */
function destroyedLine(line, known) {
  const { baselines, species, unit } = line;
  return { baselines, species, unit, alive: 0, dead_stem: 0, empty_spot: plantedOf(line, known) ?? 0, not_found: 0, not_assessed: 0 };
}

function regenerationBody(rows) {
  return rows.flatMap((row) => ['lower', 'upper'].filter((height) => wholeNumber(row[height]) !== null).map((height) => ({
    species: row.species || null, name: row.species ? '' : row.name.trim(), height_class: height,
    count: count(row[height]), capped: Boolean(row[`${height}_capped`]), subplot_area_m2: decimalNumber(row.subplot_area_m2),
  })));
}

function removalBody(row) {
  return { baseline: row.baseline, removed_on: row.removed_on, alive_removed: count(row.alive_removed), reason: row.reason };
}

function baselineBody(baseline) {
  const { uid, species, cohort, planted, unit, source, counted_on } = baseline;
  return { uid, species, cohort: cohort || null, planted: wholeNumber(planted), unit, source, counted_on };
}

function linesBody(draft, known) {
  if (draft.status === 'counted') return draft.lines.map(lineBody);
  return draft.status === 'destroyed' ? draft.lines.map((line) => destroyedLine(line, known)) : [];
}

/**
 * The visit as an object whose keys stand in the order they are sent.
 *
 * `baselines` are those the plot has on the server; the draft may add its own.
 */
export function visitBody(draft, { capturedAt, clockOffsetMs, baselines }) {
  const counted = draft.status === 'counted';
  return {
    visit: draft.visit, parents: draft.parents, plot: draft.plot, round: draft.round, purpose: draft.purpose,
    observed_on: draft.observed_on, captured_at: capturedAt, clock_offset_ms: clockOffsetMs,
    status: draft.status, reason: counted ? '' : draft.reason,
    baselines: counted ? draft.baselines.map(baselineBody) : [],
    lines: linesBody(draft, [...baselines, ...draft.baselines]),
    regeneration: counted ? regenerationBody(draft.regeneration) : [],
    removals: counted ? draft.removals.filter((row) => row.alive_removed !== '').map(removalBody) : [],
  };
}

/** Close a draft into the item that is sent: the same bytes for ever. */
export async function sealVisit(draft, { author, device, ...context }) {
  const body = JSON.stringify(visitBody(draft, context));
  const personal = JSON.stringify({ author, note: draft.note.trim(), position: draft.position, device });
  return { id: draft.item_id, kind: 'visit', schema: SCHEMA, sha256: await sha256(body), body, personal };
}
