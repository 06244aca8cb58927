/** A field API in memory behind a stand-in for fetch, with the faults of a bad day. */

import { createHash } from 'node:crypto';

const json = (status, content, headers = {}) => new Response(JSON.stringify(content), {
  status, headers: { 'content-type': status < 400 ? 'application/json' : 'application/problem+json', ...headers },
});
export const html = (status = 200) => new Response('<html><body>Sign in to this Wi-Fi</body></html>', { status, headers: { 'content-type': 'text/html' } });
export const problem = (status, code, detail, headers) => json(status, { type: 'about:blank', title: code, status, code, detail }, headers);

const digest = (text) => createHash('sha256').update(text).digest('hex');

export function memoryServer({ passUid = 'pass-1', most = Infinity } = {}) {
  const stored = new Map();
  const server = {
    stored, requests: [], faults: [], csrf: 'token-1', passUid, most, refuse: new Set(), sessions: 0,

    file(item) {
      const kept = stored.get(item.id);
      if (kept) return kept.sha256 === item.sha256 ? { id: item.id, outcome: 'already', seq: kept.seq } : { id: item.id, outcome: 'id_reused', problem: { title: 'Another text has this id.' } };
      if (digest(item.body) !== item.sha256 || server.refuse.has(item.id)) return { id: item.id, outcome: 'rejected', problem: { title: 'Refused', detail: 'The plot is not known.', code: 'unknown_plot' } };
      stored.set(item.id, { ...item, seq: stored.size + 1 });
      return { id: item.id, outcome: 'stored', seq: stored.size };
    },

    items(options) {
      const { items } = JSON.parse(options.body);
      server.requests.push(items);
      if (options.headers['X-CSRFToken'] !== server.csrf) return problem(403, 'csrf', 'The token is stale.');
      if (items.length > server.most || options.body.length > 256 * 1024) return problem(413, 'too_large', 'Send fewer items at once.');
      return json(200, { server_time: new Date().toISOString(), outcomes: items.map(server.file) });
    },

    /** A fault is a function of (answer) that runs instead of returning the real answer; null lets one through. */
    async fetch(path, options) {
      if (path.endsWith('/session')) {
        server.sessions += 1;
        return json(200, { authenticated: true, csrf_token: server.csrf, server_time: new Date().toISOString(), organisation: null, pass: server.passUid && { uid: server.passUid } });
      }
      const fault = server.faults.shift();
      return fault ? fault(() => server.items(options)) : server.items(options);
    },
  };
  return server;
}
