/** A draft: the count screen's answers as typed, right or wrong, kept at each change. */

import { PARTS, SIGNS, wholeNumber } from './arithmetic.js';
import { uuid7 } from './identifiers.js';

export const DRAFT_VERSION = 1;
export const draftKey = (roundUid, plotUid) => `${roundUid}:${plotUid}`;

const text = (number) => (number === null || number === undefined ? '' : String(number));

/** An empty count line for one or several baselines of the same species and unit. */
export function emptyLine(baselines) {
  return {
    baselines: baselines.map((one) => one.uid), species: baselines[0].species, unit: baselines[0].unit,
    alive: '', dead_stem: '', empty_spot: '', not_found: '', not_assessed: '', resprout: '', origin_uncertain: '',
    seedlings: '', signs: {}, heights_cm: '', spots: [],
  };
}

/** A new draft for one plot of one round. */
export function newDraft({ plot, round, today, id = uuid7() }) {
  return {
    version: DRAFT_VERSION, key: draftKey(round.uid, plot.uid), item_id: id, visit: id, parents: [], replaces: null,
    plot: plot.uid, round: round.uid, purpose: 'survival', observed_on: today, status: 'counted', reason: '',
    baselines: [], lines: plot.baselines.map((baseline) => emptyLine([baseline])),
    regeneration: [], removals: [], note: '', position: null,
  };
}

export const emptyRegeneration = () => ({
  species: '', name: '', lower: '', upper: '', lower_capped: false, upper_capped: false, subplot_area_m2: '',
});
export const emptyRemoval = (baseline, today) => ({ baseline, removed_on: today, alive_removed: '', reason: 'thinning' });
export const emptySpot = () => ({ spot: '', status: 'alive' });

/** What was typed for one part of several lines, added up; empty when nothing was. */
function typedTogether(lines, part) {
  const numbers = lines.map((line) => wholeNumber(line[part])).filter((number) => number !== null && !Number.isNaN(number));
  return numbers.length > 0 ? String(numbers.reduce((sum, number) => sum + number, 0)) : '';
}

/** Count lines of one species and unit together, for trees whose cohorts cannot be told apart in the row. */
export function mergeLines(lines, index) {
  const { species, unit } = lines[index];
  const same = lines.filter((line) => line.species === species && line.unit === unit);
  const merged = emptyLine(same.flatMap((line) => line.baselines).map((uid) => ({ uid, species, unit })));
  for (const part of [...PARTS, 'seedlings', 'resprout', 'origin_uncertain']) merged[part] = typedTogether(same, part);
  for (const sign of SIGNS) {
    const sum = typedTogether(same.map((line) => line.signs), sign);
    if (sum) merged.signs[sign] = sum;
  }
  merged.heights_cm = same.map((line) => line.heights_cm).filter(Boolean).join(' ');
  merged.spots = same.flatMap((line) => line.spots);
  return lines.flatMap((line) => (line === same[0] ? [merged] : same.includes(line) ? [] : [line]));
}

/** Whether anybody has typed into a line. */
export const isTouched = (line) => [...PARTS, 'seedlings', 'resprout', 'origin_uncertain', 'heights_cm'].some((part) => line[part] !== '') || line.spots.length > 0 || Object.values(line.signs).some(Boolean);

/** Undo a merge: one empty line per baseline again, since nobody knows which number belongs to which. */
export function splitLine(lines, index) {
  const { species, unit, baselines } = lines[index];
  const parts = baselines.map((uid) => emptyLine([{ uid, species, unit }]));
  return lines.flatMap((line, at) => (at === index ? parts : [line]));
}

function typedLine(line) {
  const typed = { ...line, signs: {}, spots: line.spots ?? [], heights_cm: (line.heights_cm ?? []).join(' ') };
  for (const key of ['alive', 'dead_stem', 'empty_spot', 'not_found', 'not_assessed', 'resprout', 'origin_uncertain', 'seedlings']) {
    typed[key] = text(line[key]);
  }
  for (const [sign, number] of Object.entries(line.signs ?? {})) typed.signs[sign] = text(number);
  return typed;
}

function typedRegeneration(rows) {
  const bySpecies = new Map();
  for (const row of rows) {
    const key = `${row.species}|${row.name}|${row.subplot_area_m2}`;
    const typed = bySpecies.get(key) ?? { ...emptyRegeneration(), species: row.species ?? '', name: row.name, subplot_area_m2: text(row.subplot_area_m2) };
    typed[row.height_class] = text(row.count);
    typed[`${row.height_class}_capped`] = row.capped;
    bySpecies.set(key, typed);
  }
  return [...bySpecies.values()];
}

/**
 * A draft that corrects a saved item.
 *
 * A correction names the revision it corrects as its parent. An item the server
 * refused is not on the server, so its correction takes that item's own place:
 * a refused first count becomes a new first count.
 */
export function correctionDraft(item, plot, id = uuid7()) {
  const body = JSON.parse(item.body);
  const personal = item.personal ? JSON.parse(item.personal) : {};
  const refused = item.state === 'needs_help';
  const fresh = refused && body.parents.length === 0;
  const counted = body.status === 'counted';
  return {
    version: DRAFT_VERSION, key: draftKey(body.round, body.plot), item_id: id, visit: fresh ? id : body.visit,
    parents: refused ? body.parents : [item.id], replaces: refused ? item.id : null,
    plot: body.plot, round: body.round, purpose: body.purpose, observed_on: body.observed_on, status: body.status, reason: body.reason,
    baselines: body.baselines.map((one) => ({ ...one, planted: text(one.planted) })),
    lines: counted ? body.lines.map(typedLine) : plot.baselines.map((one) => emptyLine([one])),
    regeneration: typedRegeneration(body.regeneration),
    removals: body.removals.map((row) => ({ ...row, alive_removed: text(row.alive_removed) })),
    note: personal.note ?? '', position: personal.position ?? null,
  };
}
