/** Sends what is due, and files each outcome. The network call always sits between transactions. */

import { firstBatch, halves } from './batches.js';
import { claimed, helpless, returned, settled } from './item_states.js';

/**
 * An outbox over a store and a service.
 *
 * `store.changeItems(select, change)` changes items in one transaction;
 * `service.postItems(items)` answers as `answers.js` classifies it;
 * `alone(work)` runs work while no other tab sends, or returns null;
 * `progress()` is called after each batch that was answered.
 */
export function createOutbox({ store, service, alone, progress = () => {}, now = Date.now }) {
  const all = (state, dueBefore = Infinity, limit = Infinity) => ({ state, dueBefore, limit });

  /** Items left in "sending" by a page that was killed become queued again. */
  const reclaim = (exclusive) => store.changeItems(all('sending', exclusive ? Infinity : now()), (items) => items.map((item) => returned(item, now())));

  const hurry = () => store.changeItems(all('queued'), (items) => items.map((item) => ({ ...item, due_at: now() })));

  const claim = (dueBefore) => store.changeItems(all('queued', dueBefore, 50), (items) => firstBatch(items).map((item) => claimed(item, now())));

  const file = (items, change) => store.changeItems({ ids: items.map((item) => item.id) }, (kept) => kept.filter((item) => item.state === 'sending').map(change));

  const giveBack = (items) => file(items, (item) => returned(item, now()));

  const fileOutcomes = (items, outcomes) => {
    const byId = new Map(outcomes.map((outcome) => [outcome?.id, outcome]));
    return file(items, (item) => (byId.has(item.id) ? settled(item, byId.get(item.id), now()) : returned(item, now(), 30)));
  };

  /** The server would not take this batch as a whole: look for the item that spoils it. */
  async function divide(items, answer) {
    if (items.length === 1) {
      await file(items, (item) => helpless(item, answer.problem));
      return null;
    }
    const [first, second] = halves(items);
    const stopped = await send(first);
    if (!stopped) return send(second);
    await giveBack(second);
    return stopped;
  }

  /** Send one batch. Returns null to go on, or the answer that stopped us. */
  async function send(items) {
    const answer = await service.postItems(items);
    if (answer.kind === 'outcomes') {
      const filed = await fileOutcomes(items, answer.outcomes);
      if (filed.some((item) => item.state === 'acked')) await store.note('last_sent', now());
      progress();
      return null;
    }
    if (answer.kind === 'spoilt') return divide(items, answer);
    await giveBack(items);
    return answer;
  }

  /** Send everything that is due. "Send now" passes `hurried`, which ends every wait. */
  async function sendDue({ hurried = false } = {}) {
    return alone(async (exclusive) => {
      await reclaim(exclusive);
      if (hurried) await hurry();
      const started = now();
      for (let batch = await claim(started); batch.length > 0; batch = await claim(started)) {
        const stopped = await send(batch);
        if (stopped) return stopped;
      }
      return { kind: 'done' };
    });
  }

  return { sendDue };
}
