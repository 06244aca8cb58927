/** The outbox on bad days: nothing is lost, nothing is doubled, and nothing is called sent that is not. */

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { MOST_BYTES, firstBatch } from '../../monitoring/static/phone/batches.js';
import { sha256, uuid7 } from '../../monitoring/static/phone/identifiers.js';
import { LEASE_MS, isNewerOnServer, mayLeave, queued, shownItem } from '../../monitoring/static/phone/item_states.js';
import { alone } from '../../monitoring/static/phone/locks.js';
import { createOutbox } from '../../monitoring/static/phone/outbox.js';
import { createService } from '../../monitoring/static/phone/session.js';
import { memoryServer, html, problem } from './memory_server.mjs';
import { memoryStore } from './memory_store.mjs';

const NOW = 1_800_000_000_000;

async function makeItem(number, { filler = '', saved = NOW - 1000 + number } = {}) {
  const id = uuid7(saved);
  const body = JSON.stringify({ visit: id, parents: [], number, filler });
  return queued({ id, kind: 'visit', schema: 'visit/1', sha256: await sha256(body), body, personal: '{}' }, { plot: `plot-${number}`, round: 'round', visit: id, now: saved });
}

const makeItems = (count, options) => Promise.all(Array.from({ length: count }, (_, number) => makeItem(number, options)));

/** A phone with its store, in front of a server; the clock stands unless moved. */
function phone(items, { server = memoryServer(), store = memoryStore(items), locks } = {}) {
  const clock = { now: NOW };
  const service = createService({ fetch: (path, options) => server.fetch(path.replace('/api/v1', ''), options), now: () => clock.now });
  const outbox = createOutbox({ store, service, alone: locks ? alone('send', locks) : (work) => work(true), now: () => clock.now });
  return { server, store, outbox, clock };
}

const states = async (store) => (await store.items()).map((item) => item.state);
const all = (count, state) => Array(count).fill(state);

test('what is due is sent, and acknowledged by its own id', async () => {
  const { outbox, store, server } = phone(await makeItems(3));
  assert.deepEqual(await outbox.sendDue(), { kind: 'done' });
  assert.deepEqual(await states(store), all(3, 'acked'));
  assert.equal(server.stored.size, 3);
  assert.equal(await store.noted('last_sent'), NOW);
});

test('a lost reply sends the same bytes again and is stored once', async () => {
  const { outbox, store, server, clock } = phone(await makeItems(2));
  server.faults.push((answer) => { answer(); throw new TypeError('connection reset'); });
  assert.deepEqual(await outbox.sendDue(), { kind: 'wait', reason: 'offline', after_s: null });
  assert.deepEqual(await states(store), all(2, 'queued'));
  clock.now += 1000;
  await outbox.sendDue();
  assert.deepEqual(await states(store), all(2, 'acked'));
  assert.deepEqual((await store.items()).map((item) => item.outcome), all(2, 'already'));
  assert.deepEqual(server.requests[0], server.requests[1]);
  assert.equal(server.stored.size, 2);
});

test('a Wi-Fi sign-in page is no acknowledgement, with any status', async () => {
  for (const status of [200, 302, 404]) {
    const { outbox, store, server } = phone(await makeItems(1));
    server.faults.push(() => html(status));
    assert.equal((await outbox.sendDue()).reason, 'portal');
    assert.deepEqual(await states(store), ['queued']);
    assert.equal(await store.noted('last_sent'), undefined);
  }
});

test('JSON that names no outcomes is no acknowledgement either', async () => {
  const { outbox, store, server } = phone(await makeItems(1));
  server.faults.push(() => Response.json({ ok: true }));
  assert.equal((await outbox.sendDue()).reason, 'portal');
  assert.deepEqual(await states(store), ['queued']);
});

test('a busy server, a slow-down and a lost pass all leave the items queued', async () => {
  const answers = [[() => html(502), 'wait'], [() => problem(503, 'busy', '', { 'retry-after': '7' }), 'wait'], [() => problem(429, 'slow_down', '', { 'retry-after': '60' }), 'wait'], [() => problem(401, 'no_pass', ''), 'no_pass']];
  for (const [fault, kind] of answers) {
    const { outbox, store, server } = phone(await makeItems(2));
    server.faults.push(fault);
    assert.equal((await outbox.sendDue()).kind, kind);
    assert.deepEqual(await states(store), all(2, 'queued'));
  }
});

test('the wait the server asks for is reported', async () => {
  const { outbox, server } = phone(await makeItems(1));
  server.faults.push(() => problem(429, 'slow_down', '', { 'retry-after': '60' }));
  assert.equal((await outbox.sendDue()).after_s, 60);
});

test('a stale token is fetched once more, and only a second refusal is believed', async () => {
  const { outbox, store, server } = phone(await makeItems(1));
  server.faults.push((answer) => { server.csrf = 'token-2'; return answer(); });
  assert.deepEqual(await outbox.sendDue(), { kind: 'done' });
  assert.deepEqual([server.sessions, server.requests.length, await states(store)], [2, 2, ['acked']]);
  const shut = phone(await makeItems(1));
  shut.server.faults.push(() => problem(403, 'ended', 'This pass has ended.'), () => problem(403, 'ended', 'This pass has ended.'));
  assert.equal((await shut.outbox.sendDue()).kind, 'no_pass');
  assert.deepEqual(await states(shut.store), ['queued']);
});

test('each item gets its own outcome, and one that is not named waits', async () => {
  const items = await makeItems(5);
  const { outbox, store, server } = phone(items);
  const [a, b, c, d] = items.map((item) => item.id);
  server.faults.push(() => Response.json({ outcomes: [
    { id: a, outcome: 'stored', seq: 7 }, { id: b, outcome: 'stored_flagged', seq: 8, flags: ['over_baseline'] },
    { id: c, outcome: 'rejected', problem: { detail: 'Alive must be 0 or more.' } }, { id: d, outcome: 'retry', after_s: 40 },
    { id: 'somebody-else', outcome: 'stored' }, null,
  ] }));
  await outbox.sendDue();
  const kept = await store.items();
  assert.deepEqual(kept.map((item) => item.state), ['acked', 'acked', 'needs_help', 'queued', 'queued']);
  assert.deepEqual(kept[1].flags, ['over_baseline']);
  assert.equal(kept[2].problem.detail, 'Alive must be 0 or more.');
  assert.equal(kept[3].due_at, NOW + 40_000);
  assert.equal(server.requests.length, 0);
});

test('an outcome this phone does not know keeps the item', async () => {
  const [item] = await makeItems(1);
  const { outbox, store, server } = phone([item]);
  server.faults.push(() => Response.json({ outcomes: [{ id: item.id, outcome: 'filed_in_triplicate' }] }));
  await outbox.sendDue();
  assert.deepEqual(await states(store), ['queued']);
});

test('an id that the server holds with other bytes needs help and is kept', async () => {
  const [item] = await makeItems(1);
  const { outbox, store, server } = phone([item]);
  server.stored.set(item.id, { sha256: 'other' });
  await outbox.sendDue();
  const [kept] = await store.items();
  assert.deepEqual([kept.state, kept.outcome, kept.body], ['needs_help', 'id_reused', item.body]);
});

test('a refused item does not hold up the others and is not sent again by itself', async () => {
  const items = await makeItems(4);
  const { outbox, store, server, clock } = phone(items);
  server.refuse.add(items[1].id);
  await outbox.sendDue();
  assert.deepEqual(await states(store), ['acked', 'needs_help', 'acked', 'acked']);
  clock.now += 10 ** 9;
  await outbox.sendDue({ hurried: true });
  assert.equal(server.requests.length, 1);
});

test('a batch the server finds too large is halved until it fits', async () => {
  const { outbox, store, server } = phone(await makeItems(7), { server: memoryServer({ most: 2 }) });
  assert.deepEqual(await outbox.sendDue(), { kind: 'done' });
  assert.deepEqual(await states(store), all(7, 'acked'));
  assert.deepEqual(server.requests.map((items) => items.length), [7, 4, 2, 2, 3, 2, 1]);
});

test('one item too large for the server needs help; the rest arrive', async () => {
  const items = [...await makeItems(2), await makeItem(2, { filler: 'x'.repeat(300_000) })];
  const { outbox, store } = phone(items);
  await outbox.sendDue();
  assert.deepEqual((await states(store)).sort(), ['acked', 'acked', 'needs_help']);
});

test('when a half meets a busy server the other half waits too', async () => {
  const { outbox, store, server } = phone(await makeItems(4), { server: memoryServer({ most: 2 }) });
  server.faults.push(null, () => html(503));
  assert.equal((await outbox.sendDue()).reason, 'busy');
  assert.deepEqual(await states(store), all(4, 'queued'));
});

test('broken bytes among good ones are found by halving', async () => {
  const items = await makeItems(4);
  const { outbox, store, server } = phone(items);
  const real = server.items;
  server.items = (options) => (options.body.includes(items[2].id) ? problem(400, 'broken_json', 'The text is not JSON.') : real(options));
  await outbox.sendDue();
  assert.deepEqual(await states(store), ['acked', 'acked', 'needs_help', 'acked']);
});

test('a request holds at most 50 items and 256 KiB, in the order they were saved', async () => {
  const { outbox, server } = phone(await makeItems(120));
  await outbox.sendDue();
  assert.deepEqual(server.requests.map((items) => items.length), [50, 50, 20]);
  const numbers = server.requests.flat().map((item) => JSON.parse(item.body).number);
  assert.deepEqual(numbers, [...numbers].sort((a, b) => a - b));
  const heavy = await makeItems(20, { filler: 'é"'.repeat(10_000) });
  const batch = firstBatch(heavy);
  const bytes = Buffer.byteLength(JSON.stringify({ items: batch.map(({ id, kind, schema, sha256: hash, body, personal }) => ({ id, kind, schema, sha256: hash, body, personal })) }));
  assert.ok(bytes <= MOST_BYTES && batch.length < 20 && batch.length > 1, `${batch.length} items, ${bytes} bytes`);
});

test('items left sending by a killed page are taken back', async () => {
  const [item] = await makeItems(1);
  const { outbox, store } = phone([{ ...item, state: 'sending', due_at: NOW + LEASE_MS }]);
  await outbox.sendDue();
  assert.deepEqual(await states(store), ['acked']);
});

test('without locks a lease keeps a second tab off until it ends', async () => {
  const [item] = await makeItems(1);
  const store = memoryStore([{ ...item, state: 'sending', due_at: NOW + LEASE_MS }]);
  const { outbox, clock, server } = phone([], { store, locks: null });
  const second = createOutbox({ store, service: createService({ fetch: (path, options) => server.fetch(path.replace('/api/v1', ''), options) }), alone: (work) => work(false), now: () => clock.now });
  await second.sendDue();
  assert.deepEqual([await states(store), server.requests.length], [['sending'], 0]);
  clock.now += LEASE_MS + 1;
  await second.sendDue();
  assert.deepEqual(await states(store), ['acked']);
  assert.ok(outbox);
});

test('two tabs sending at the same moment store each item once', async () => {
  const items = await makeItems(30);
  const store = memoryStore(items);
  const held = new Set();
  const locks = { async request(name, { ifAvailable }, work) {
    if (held.has(name)) { assert.ok(ifAvailable); return work(null); }
    held.add(name);
    try { return await work({ name }); } finally { held.delete(name); }
  } };
  const first = phone([], { store, locks });
  const second = phone([], { store, locks, server: first.server });
  const results = await Promise.all([first.outbox.sendDue(), second.outbox.sendDue()]);
  assert.deepEqual(results, [{ kind: 'done' }, null]);
  assert.deepEqual(await states(store), all(30, 'acked'));
  assert.equal(first.server.requests.flat().length, 30);
});

test('two tabs without locks share the queue by lease, and nothing is stored twice', async () => {
  const items = await makeItems(80);
  const store = memoryStore(items);
  const server = memoryServer();
  const tabs = [phone([], { store, server }), phone([], { store, server })];
  const unlocked = tabs.map(({ clock }) => createOutbox({ store, service: createService({ fetch: (path, options) => server.fetch(path.replace('/api/v1', ''), options) }), alone: (work) => work(false), now: () => clock.now }));
  await Promise.all(unlocked.map((outbox) => outbox.sendDue()));
  assert.deepEqual(await states(store), all(80, 'acked'));
  assert.equal(server.requests.flat().length, 80);
});

test('nothing but an answer that names it moves an item out of the queue', async () => {
  const random = (() => { let seed = 7; return () => { seed = (seed * 16807) % 2147483647; return seed / 2147483647; }; })();
  const items = await makeItems(60);
  const { outbox, store, server, clock } = phone(items);
  const lost = (answer) => { answer(); throw new TypeError('reset'); };
  const kinds = [lost, () => html(), () => html(503), () => problem(401, 'no_pass', ''), () => { throw new TypeError('no route'); }, null, null];
  for (let round = 0; round < 200; round += 1) {
    server.faults = Array.from({ length: 4 }, () => kinds[Math.floor(random() * kinds.length)]);
    clock.now += 60_000;
    await outbox.sendDue();
    for (const item of await store.items()) {
      if (item.state === 'acked') assert.ok(server.stored.has(item.id));
      else assert.equal(item.state, 'queued');
      assert.equal(item.body, items.find((one) => one.id === item.id).body);
    }
  }
  assert.deepEqual(await states(store), all(60, 'acked'));
  assert.equal(server.stored.size, 60);
});

test('"Send now" ends every wait', async () => {
  const [item] = await makeItems(1);
  const { outbox, store } = phone([{ ...item, due_at: NOW + 10 ** 8 }]);
  await outbox.sendDue();
  assert.deepEqual(await states(store), ['queued']);
  await outbox.sendDue({ hurried: true });
  assert.deepEqual(await states(store), ['acked']);
});

test('a plot shows the newest revision of this phone, not the one it corrects', async () => {
  const first = await makeItem(1);
  const second = { ...await makeItem(1), body: JSON.stringify({ parents: [first.id] }), saved_at: first.saved_at - 5000 };
  assert.equal(shownItem([first, second], 'round', 'plot-1').id, second.id);
  assert.equal(shownItem([{ ...first, state: 'replaced' }], 'round', 'plot-1'), null);
});

test('a revision made elsewhere is noticed, one of this phone is not', async () => {
  const mine = { ...await makeItem(1), state: 'acked' };
  const last = (head) => ({ visit: mine.visit, head });
  assert.equal(isNewerOnServer(mine, [mine], last('made-at-the-desk')), true);
  assert.equal(isNewerOnServer(mine, [mine], last(mine.id)), false);
  assert.equal(isNewerOnServer({ ...mine, state: 'queued' }, [mine], last('made-at-the-desk')), false);
});

test('only what the server has held for a month leaves the phone', async () => {
  const item = await makeItem(1);
  const month = 31 * 24 * 3600 * 1000;
  assert.ok(!mayLeave({ ...item, state: 'needs_help' }, NOW + 100 * month));
  assert.ok(!mayLeave({ ...item, state: 'acked', acked_at: NOW }, NOW + 1000));
  assert.ok(mayLeave({ ...item, state: 'acked', acked_at: NOW }, NOW + month));
});
