/**
 * The states of an item on its way to the server, as pure transitions.
 *
 *   queued -> sending -> acked        the server named its id as stored
 *      ^         |   \-> needs_help   the server refused it; stays, shown, can be corrected or exported
 *      |         v
 *      +---- (no answer, a busy server, a lost pass, a killed page: the same bytes again)
 *
 * needs_help -> replaced              a correction was saved; the refused text still stays
 *
 * Nothing is ever removed on the way. `due_at` is when a queued item may be
 * tried again, or when a sending item's lease ends.
 */

export const LEASE_MS = 120_000;
export const KEEP_SENT_MS = 30 * 24 * 3600 * 1000;
const RETRY_S = 30;
const ACKNOWLEDGED = ['stored', 'stored_flagged', 'already'];
const REFUSED = ['rejected', 'id_reused'];

export const UNSENT = ['queued', 'sending', 'needs_help'];

/** A sealed item enters the outbox. */
export function queued(sealed, { now, ...about }) {
  return { ...sealed, ...about, state: 'queued', saved_at: now, due_at: now, attempts: 0, flags: [], problem: null };
}

/** A sender takes the item; a second sender leaves it alone until the lease ends. */
export function claimed(item, now) {
  return { ...item, state: 'sending', due_at: now + LEASE_MS, attempts: item.attempts + 1 };
}

/** No answer named this item: it waits with the same bytes. */
export function returned(item, now, afterSeconds = 0) {
  return { ...item, state: 'queued', due_at: now + afterSeconds * 1000 };
}

/** A person must look at this item; the server's words stay with it. */
export function helpless(item, problem, outcome = 'rejected') {
  return { ...item, state: 'needs_help', outcome, problem };
}

/** Apply the server's outcome for this very id. An outcome we do not know is no acknowledgement. */
export function settled(item, outcome, now) {
  const { outcome: word, seq = null, flags = [], problem = null, after_s: after = RETRY_S } = outcome;
  if (ACKNOWLEDGED.includes(word)) return { ...item, state: 'acked', outcome: word, seq, flags, problem: null, acked_at: now };
  if (REFUSED.includes(word)) return helpless(item, problem, word);
  return returned(item, now, Math.max(1, Number(after) || RETRY_S));
}

/** A correction of a refused item was saved in its stead. */
export function replaced(item, by) {
  return { ...item, state: 'replaced', replaced_by: by };
}

/** Whether a sent item is old enough to leave the phone. */
export function mayLeave(item, now) {
  return item.state === 'acked' && now - item.acked_at > KEEP_SENT_MS;
}

/** The item a plot shows: the newest leaf among this phone's revisions. */
export function shownItem(items, round, plot) {
  const own = items.filter((item) => item.plot === plot && item.round === round && item.state !== 'replaced');
  const parents = new Set(own.flatMap((item) => JSON.parse(item.body).parents));
  const leaves = own.filter((item) => !parents.has(item.id));
  return leaves.sort((a, b) => b.saved_at - a.saved_at || (a.id < b.id ? 1 : -1))[0] ?? null;
}

/** Whether the server counts a revision of this visit that this phone has not seen. */
export function isNewerOnServer(shown, items, last) {
  return shown?.state === 'acked' && last?.visit === shown.visit && !items.some((item) => item.id === last.head);
}
