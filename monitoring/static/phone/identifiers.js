/** Identifiers and digests made on the phone. */

const hex = (bytes) => Array.from(bytes, (byte) => byte.toString(16).padStart(2, '0')).join('');

/** A UUIDv7 (RFC 9562): the clock orders an index, nothing more is read into it. */
export function uuid7(milliseconds = Date.now(), random = crypto.getRandomValues(new Uint8Array(10))) {
  const clock = Math.max(0, Math.floor(milliseconds)).toString(16).padStart(12, '0').slice(-12);
  const bytes = Uint8Array.from(random);
  bytes[0] = (bytes[0] & 0x0f) | 0x70;
  bytes[2] = (bytes[2] & 0x3f) | 0x80;
  const tail = hex(bytes);
  return `${clock.slice(0, 8)}-${clock.slice(8)}-${tail.slice(0, 4)}-${tail.slice(4, 8)}-${tail.slice(8)}`;
}

/** SHA-256 of bytes, in hex. Needs a secure context in a browser. */
export async function sha256Bytes(bytes) {
  return hex(new Uint8Array(await crypto.subtle.digest('SHA-256', bytes)));
}

/** SHA-256 of the UTF-8 text, in hex. */
export const sha256 = (text) => sha256Bytes(new TextEncoder().encode(text));

/** A digest in hex as an HTTP Content-Digest names it (RFC 9530). */
export const contentDigest = (sha256) => `sha-256=:${btoa(String.fromCharCode(...sha256.match(/../g).map((pair) => parseInt(pair, 16))))}:`;
