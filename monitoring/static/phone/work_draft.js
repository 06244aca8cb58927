/** Drafts of field work beside counting: answers as typed, right or wrong, kept at each change. */

import { uuid7 } from './identifiers.js';

export const POINTS = ['nursery', 'arrival', 'field_store', 'crew'];
export const ROOTS = ['not_seen', 'moist', 'drying', 'dry', 'spoilt', 'frozen'];
export const VERDICTS = ['accept', 'hold', 'reject'];
export const WALK_SIGNS = ['stock_in', 'fence', 'guards', 'weeds', 'invaders', 'dry', 'loose', 'disease', 'damage', 'other'];
export const URGENCIES = ['now', 'week', 'month', 'note'];

/** What a record is about: the part of the pack, and the name of its kind. */
export const PARTS_OF_PACK = { handover: 'lots', walk: 'blocks', care: 'tasks' };
export const workKey = (kind, subject) => `${kind}:${subject}`;

/** `about` is the part of the pack as it stood: a draft stays readable when its lot or task has left the list. */
const start = (kind, about, id) => ({ version: 1, kind, key: workKey(kind, about.uid), subject: about.uid, about, item_id: id, replaces: null, note: '' });

/** A look at a lot; the time is that of beginning, since that is when plants are looked at. */
export function newHandover(lot, { at, id = uuid7() }) {
  return {
    ...start('handover', lot, id), checked_at: at, point: 'arrival', counted: '', box_temperature_c: '', minutes_exposed: '',
    root_condition: 'not_seen', sample_size: '', sample_bad: '', heights_cm: '', collars_mm: '', verdict: '', because: '', photos: [],
  };
}

export const newWalk = (block, { today, id = uuid7() }) => ({ ...start('walk', block, id), walked_on: today, signs: [] });
export const emptySign = () => ({ sign: '', urgency: 'month', where: '', place: null, note: '', photos: [] });

export const newCare = (task, { today, id = uuid7() }) => ({
  ...start('care', task, id), outcome: 'done', done_on: today, until: '', because: '', amount: '', photos: [],
});

/** What a list offers: the pack's rows, and what drafts were begun of that has left the pack since. */
export function offered(rows, drafts, kind) {
  const left = drafts.filter((draft) => draft.kind === kind && !rows.some((row) => row.uid === draft.subject));
  return [...left.map((draft) => draft.about), ...rows];
}

/** Every picture a draft names. */
export const picturesOf = (draft) => [...(draft.photos ?? []), ...(draft.signs ?? []).flatMap((row) => row.photos)];

/** A refused record as a draft again, in its own place: its text stays beside the new one. */
export const mended = (item, id = uuid7()) => ({ ...structuredClone(item.typed), item_id: id, replaces: item.id });
