/**
 * Pictures on their way to the server: drawn anew without place or camera, kept as bytes, sent after their record.
 *
 * A picture is known by the SHA-256 of its bytes, which its record names. It leaves the phone once the server
 * has answered for those very bytes.
 */

import { sha256Bytes } from './identifiers.js';

export const LONGEST_SIDE = 1600;
export const MOST_BYTES = 2 * 1024 * 1024;
export const MOST_PICTURES = 12;
const QUALITIES = [0.82, 0.65, 0.45];
const LATER_MS = 5 * 60 * 1000;

/** Width and height at which a picture is drawn: its shape kept, no side over the longest. */
export function drawnSize(width, height, longest = LONGEST_SIDE) {
  const scale = Math.min(1, longest / Math.max(width, height, 1));
  return [Math.max(1, Math.round(width * scale)), Math.max(1, Math.round(height * scale))];
}

const asBlob = (canvas, quality) => new Promise((done) => canvas.toBlob(done, 'image/jpeg', quality));

/** The bytes of a picture file as it is sent: only what was drawn, small enough. Rejects what cannot be drawn. */
export async function redrawn(file) {
  const bitmap = await createImageBitmap(file, { imageOrientation: 'from-image' });
  const canvas = document.createElement('canvas');
  [canvas.width, canvas.height] = drawnSize(bitmap.width, bitmap.height);
  canvas.getContext('2d').drawImage(bitmap, 0, 0, canvas.width, canvas.height);
  bitmap.close();
  for (const quality of QUALITIES) {
    const blob = await asBlob(canvas, quality);
    if (blob && blob.size <= MOST_BYTES) return blob.arrayBuffer();
  }
  throw new Error('too large');
}

/** Keep the bytes of a picture for the record that will name it, and return its digest. */
export async function keepPicture(store, bytes, item, now = Date.now()) {
  const sha256 = await sha256Bytes(bytes);
  await store.keepPicture({ sha256, item, bytes, kept_at: now, due_at: now, problem: null });
  return sha256;
}

/** Whether a picture's record has arrived, so that the server knows its name. */
async function isNamed(store, { item }) {
  const record = await store.item(item);
  if (record) return record.state === 'acked';
  return !(await store.drafts()).some((draft) => draft.item_id === item); // sent long ago, and let go
}

/** Sends the pictures whose records have arrived, one a request. */
export function createPictureSender({ store, service, progress = () => {}, now = Date.now }) {
  async function file(picture, answer) {
    if (answer.kind === 'kept') return store.dropPicture(picture.sha256);
    if (answer.kind === 'refused') return store.keepPicture({ ...picture, problem: answer.problem });
    return store.keepPicture({ ...picture, due_at: now() + LATER_MS }); // its record is not there yet
  }

  /** Send what may be sent. Returns {kind: 'done'}, or the answer that stopped us. */
  async function sendDue({ hurried = false } = {}) {
    for (const sha256 of await store.pictureNames()) {
      const picture = await store.picture(sha256);
      const due = picture && !picture.problem && (hurried || picture.due_at <= now());
      if (!due || !(await isNamed(store, picture))) continue;
      const answer = await service.postPicture(picture.bytes, sha256);
      if (!['kept', 'refused', 'unnamed'].includes(answer.kind)) return answer;
      await file(picture, answer);
      progress();
    }
    return { kind: 'done' };
  }

  return { sendDue };
}
