/** The bodies of field work as they are sent and hashed: handover/1, walk/1, care/1. Pure, apart from the digest. */

import { decimalNumber, wholeNumber } from './arithmetic.js';
import { sha256 } from './identifiers.js';

/** A temperature as typed: a decimal number, with or without a minus of any kind. Null when empty, NaN when unreadable. */
export function temperature(typed) {
  const text = String(typed ?? '').trim();
  const number = decimalNumber(text.replace(/^[-\u2212\u2013]/, ''));
  return number !== null && /^[-\u2212\u2013]/.test(text) ? -number : number;
}

/** Measures typed in one field, separated by spaces or semicolons; a comma is a decimal mark. */
export const measures = (typed) => String(typed ?? '').split(/[\s;]+/).filter(Boolean).map(decimalNumber);

const BODIES = {
  handover: (draft, { clockOffsetMs }) => ({
    lot: draft.subject, point: draft.point, checked_at: draft.checked_at, clock_offset_ms: clockOffsetMs,
    counted: wholeNumber(draft.counted), box_temperature_c: temperature(draft.box_temperature_c),
    minutes_exposed: wholeNumber(draft.minutes_exposed), root_condition: draft.root_condition,
    sample_size: wholeNumber(draft.sample_size), sample_bad: wholeNumber(draft.sample_bad),
    heights_cm: measures(draft.heights_cm), collars_mm: measures(draft.collars_mm),
    verdict: draft.verdict, because: draft.because.trim(), photos: draft.photos,
  }),
  walk: (draft, { recordedAt, clockOffsetMs }) => ({
    block: draft.subject, walked_on: draft.walked_on, recorded_at: recordedAt, clock_offset_ms: clockOffsetMs,
    signs: draft.signs.map(({ sign, urgency, where, place, photos }) => ({
      sign, urgency, where: where.trim(), latitude: place?.latitude ?? null, longitude: place?.longitude ?? null,
      accuracy_m: place?.accuracy_m ?? null, photos,
    })),
  }),
  care: (draft, { recordedAt, clockOffsetMs }) => ({
    task: draft.subject, recorded_at: recordedAt, clock_offset_ms: clockOffsetMs,
    done_on: draft.outcome === 'done' ? draft.done_on : null,
    put_off: draft.outcome === 'done' ? null : { until: draft.until, because: draft.because.trim() },
    amount: draft.outcome === 'done' ? decimalNumber(draft.amount) : null, photos: draft.photos,
  }),
};

function personalOf(draft, { author, device }) {
  const notes = draft.kind === 'walk' ? { sign_notes: draft.signs.map((row) => row.note.trim()) } : {};
  return { author, note: draft.note.trim(), ...notes, device };
}

/** Close a draft into the item that is sent: the same bytes for ever. */
export async function sealWork(draft, context) {
  const body = JSON.stringify(BODIES[draft.kind](draft, context));
  const personal = JSON.stringify(personalOf(draft, context));
  return { id: draft.item_id, kind: draft.kind, schema: `${draft.kind}/1`, sha256: await sha256(body), body, personal };
}
