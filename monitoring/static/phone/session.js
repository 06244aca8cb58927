/** Talks to the field API: who we are, the field pack, and the items. The CSRF token is fetched, never kept on disk. */

import { classify, classifyPicture, readJson } from './answers.js';
import { wire } from './batches.js';
import { contentDigest } from './identifiers.js';

const API = '/api/v1';
const PATIENCE_MS = 90_000;

/** A problem the server put into words, or that the lack of an answer amounts to. */
export class ServiceError extends Error {
  constructor(reason, problem = null) {
    super(problem?.detail || problem?.title || reason);
    this.reason = reason;
    this.problem = problem;
  }
}

/** A client of the field API. `fetch` and the clock are handed in, so that tests can stand in for both. */
export function createService({ fetch, now = Date.now }) {
  let token = null;

  const call = (path, options = {}) => fetch(`${API}${path}`, {
    credentials: 'same-origin', cache: 'no-store', redirect: 'error', signal: AbortSignal.timeout(PATIENCE_MS), ...options,
    headers: { Accept: 'application/json', ...options.headers },
  });

  async function session() {
    const asked = now();
    const json = await answer(call('/session'));
    token = json.csrf_token;
    const midway = (asked + now()) / 2;
    return { ...json, clock_offset_ms: Math.round(Date.parse(json.server_time) - midway) };
  }

  async function post(path, content, type = 'application/json', headers = {}) {
    if (token === null) await session();
    const body = type === 'application/json' ? JSON.stringify(content) : content;
    const send = () => call(path, { method: 'POST', body, headers: { 'Content-Type': type, 'X-CSRFToken': token, ...headers } });
    const response = await send();
    if (response.status !== 403) return response;
    await session(); // a stale token looks like a refusal: fetch it once more, then believe the answer
    return send();
  }

  /** The JSON of a call, or a ServiceError that says why there is none. */
  async function answer(calling) {
    let response;
    try {
      response = await calling;
    } catch (error) {
      if (error instanceof ServiceError) throw error;
      throw new ServiceError('offline');
    }
    if (response.status === 204) return null;
    const json = await readJson(response);
    if (response.ok && json !== null) return json;
    if (json === null) throw new ServiceError(response.status >= 500 ? 'busy' : 'portal');
    const reason = { 401: 'no_pass', 403: 'no_pass', 429: 'busy' }[response.status] ?? (response.status >= 500 ? 'busy' : 'refused');
    throw new ServiceError(reason, json);
  }

  async function postItems(items) {
    try {
      return await classify(await post('/field/items', { items: items.map(wire) }));
    } catch (error) {
      return { kind: 'wait', reason: error instanceof ServiceError ? error.reason : 'offline', after_s: null };
    }
  }

  async function postPicture(bytes, sha256) {
    try {
      return await classifyPicture(await post('/field/photos', bytes, 'image/jpeg', { 'Content-Digest': contentDigest(sha256) }));
    } catch (error) {
      return { kind: 'wait', reason: error instanceof ServiceError ? error.reason : 'offline', after_s: null };
    }
  }

  return {
    session,
    postItems,
    postPicture,
    pack: () => answer(call('/field/pack')),
    enrol: (code, device) => answer(post('/field/enrol', { code, device })),
    leave: () => answer(post('/field/leave', {})),
  };
}
