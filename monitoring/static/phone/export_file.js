/** The way out when nothing else works: unsent counts as a file that a field lead can take in. */

import { wire } from './batches.js';
import { UNSENT } from './item_states.js';

/** The text of the file: the very items that would travel, so that importing and sending later do no harm, and open drafts as typed. */
export function unsentText(items, drafts, { passUid, label, savedAt }) {
  const unsent = items.filter((item) => UNSENT.includes(item.state) || item.state === 'replaced');
  return JSON.stringify({ format: 'tallygrove-unsent/1', pass: { uid: passUid, label }, saved_at: savedAt, items: unsent.map(wire), drafts }, null, 1);
}

/** Offer a text as a download. */
export function offerFile(name, text) {
  const address = URL.createObjectURL(new Blob([text], { type: 'application/json' }));
  const link = document.createElement('a');
  link.href = address;
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
}
