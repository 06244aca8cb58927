/** From a finished draft to "Saved on this phone": nothing is called saved before the disk has it. */

import { instantWithOffset } from './dates.js';
import { mayLeave, queued, replaced } from './item_states.js';
import { sealVisit } from './visit.js';
import { picturesOf } from './work_draft.js';
import { sealWork } from './work_record.js';

const OFFSET_LASTS_MS = 10 * 24 * 3600 * 1000;
const JUMP_MS = 5000;

/** The clock offset worth sending: null when it is old, or when the clock jumped while the page was open. */
export function usableOffset(clock, now, elapsed = { wall: now, steady: now }) {
  if (!clock || Math.abs(elapsed.wall - elapsed.steady) > JUMP_MS) return null;
  return Math.abs(now - clock.at) > OFFSET_LASTS_MS ? null : clock.offset_ms;
}

const isFull = (error) => error?.name === 'QuotaExceededError';

async function putItem(store, item, ending) {
  try {
    await store.saveItem(item, ending);
  } catch (error) {
    if (error?.name === 'ConstraintError' && await store.item(item.id)) return; // the other tab, or a second tap, was first
    if (!isFull(error)) throw error;
    const sent = (await store.items()).filter((kept) => kept.state === 'acked');
    await store.removeItems(sent.map((kept) => kept.id)); // those are on the server: make room
    await store.saveItem(item, ending);
  }
}

/** Save a draft as an item. Returns the item as it now stands in the store. */
export async function saveVisit({ store, draft, plot, author, device, clock, now = Date.now(), elapsed }) {
  const context = { capturedAt: instantWithOffset(new Date(now)), clockOffsetMs: usableOffset(clock, now, elapsed), baselines: plot.baselines };
  const sealed = await sealVisit(draft, { ...context, author, device });
  const item = queued(sealed, { plot: draft.plot, round: draft.round, visit: draft.visit, now });
  const refused = draft.replaces ? await store.item(draft.replaces) : null;
  await putItem(store, item, { draftKey: draft.key, replacedItem: refused && replaced(refused, item.id) });
  return store.item(item.id);
}

/** Save a draft of field work as an item; its pictures wait beside it until it has arrived. */
export async function saveWork({ store, draft, author, device, clock, now = Date.now(), elapsed }) {
  const context = { recordedAt: instantWithOffset(new Date(now)), clockOffsetMs: usableOffset(clock, now, elapsed), author, device };
  const item = queued(await sealWork(draft, context), { subject: draft.subject, photos: picturesOf(draft), typed: structuredClone(draft), now });
  const refused = draft.replaces ? await store.item(draft.replaces) : null;
  for (const sha256 of item.photos) {
    const picture = await store.picture(sha256);
    if (picture && picture.item !== item.id) await store.keepPicture({ ...picture, item: item.id });
  }
  await putItem(store, item, { draftKey: draft.key, replacedItem: refused && replaced(refused, item.id) });
  return store.item(item.id);
}

/** Let items go that the server has held for a month. */
export async function forgetOldItems(store, now = Date.now()) {
  const old = (await store.items()).filter((item) => mayLeave(item, now));
  if (old.length > 0) await store.removeItems(old.map((item) => item.id));
}
