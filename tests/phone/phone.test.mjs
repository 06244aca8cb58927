/** Saving, waiting, moving about: what a person relies on between the screens. */

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { dayInWords, instantWithOffset, isDay, localDay } from '../../monitoring/static/phone/dates.js';
import { createDraftKeeper } from '../../monitoring/static/phone/draft_keeper.js';
import { correctionDraft } from '../../monitoring/static/phone/draft.js';
import { unsentText } from '../../monitoring/static/phone/export_file.js';
import { uuid7 } from '../../monitoring/static/phone/identifiers.js';
import { doneCount, plotMark } from '../../monitoring/static/phone/marks.js';
import { findPlot, keptPack, refreshPack, speciesChoices } from '../../monitoring/static/phone/pack.js';
import { readRoute, takeCode, tidyCode } from '../../monitoring/static/phone/routes.js';
import { askToKeep, safetyKey } from '../../monitoring/static/phone/safety.js';
import { saveVisit, usableOffset } from '../../monitoring/static/phone/saving.js';
import { backoff, createSender } from '../../monitoring/static/phone/sender.js';
import { createService } from '../../monitoring/static/phone/session.js';
import { CASES, PLAIN, uid } from './cases.mjs';
import { memoryStore } from './memory_store.mjs';
import { html, problem } from './memory_server.mjs';

const NOW = Date.UTC(2026, 10, 25, 9, 14);

async function save(store, draft, more = {}) {
  await store.keepDraft(draft);
  return saveVisit({ store, draft, plot: PLAIN, author: 'a', device: 'd', clock: null, now: NOW, ...more });
}

test('saving moves the draft into the outbox in one step', async () => {
  const store = memoryStore();
  const { draft } = CASES.counted();
  const item = await save(store, draft);
  assert.deepEqual([item.state, item.id, item.plot, await store.draft(draft.key)], ['queued', draft.item_id, PLAIN.uid, undefined]);
});

test('a second tap on save makes no second visit', async () => {
  const store = memoryStore();
  const { draft } = CASES.counted();
  await save(store, draft);
  const again = await save(store, draft, { now: NOW + 500 });
  assert.equal((await store.items()).length, 1);
  assert.equal(again.saved_at, NOW);
});

test('a full phone drops only what the server holds, then saves', async () => {
  const store = memoryStore([{ id: 'sent', state: 'acked', body: '{}' }, { id: 'stuck', state: 'needs_help', body: '{}' }]);
  store.full = 1;
  const item = await save(store, CASES.counted().draft);
  assert.deepEqual((await store.items()).map(({ id }) => id), ['stuck', item.id]);
});

test('a phone that stays full says so and keeps the draft', async () => {
  const store = memoryStore();
  store.full = 2;
  const { draft } = CASES.counted();
  await assert.rejects(save(store, draft), { name: 'QuotaExceededError' });
  assert.deepEqual([await store.draft(draft.key), (await store.items()).length], [draft, 0]);
});

test('correcting a refused count keeps its text beside the correction', async () => {
  const store = memoryStore();
  const first = await save(store, CASES.counted().draft);
  await store.changeItems({ ids: [first.id] }, ([item]) => [{ ...item, state: 'needs_help' }]);
  const draft = correctionDraft(await store.item(first.id), PLAIN, uid(9100));
  const second = await save(store, draft);
  const kept = await store.item(first.id);
  assert.deepEqual([kept.state, kept.replaced_by, kept.body], ['replaced', second.id, first.body]);
  assert.deepEqual(JSON.parse(second.body).parents, []);
});

test('the clock offset is sent only while it can be trusted', () => {
  const clock = { offset_ms: -1200, at: NOW };
  assert.equal(usableOffset(clock, NOW + 1000), -1200);
  assert.equal(usableOffset(null, NOW), null);
  assert.equal(usableOffset(clock, NOW + 11 * 24 * 3600 * 1000), null);
  assert.equal(usableOffset(clock, NOW, { wall: 3 * 365 * 24 * 3600 * 1000, steady: 60_000 }), null);
});

test('a draft is kept at each change, the last words last, one write at a time', async () => {
  const written = [];
  let running = 0;
  const store = { async keepDraft(draft) {
    running += 1;
    assert.equal(running, 1);
    await new Promise((done) => setTimeout(done, 2));
    written.push(draft.note);
    running -= 1;
  } };
  const keeper = createDraftKeeper(store, assert.fail);
  const draft = { key: 'k', note: '' };
  for (const letter of 'gap') {
    draft.note += letter;
    keeper.keep(draft);
  }
  await keeper.finished();
  assert.equal(written.at(-1), 'gap');
  keeper.keep({ key: 'k', note: 'later' });
  await keeper.finished();
  assert.equal(written.at(-1), 'later');
});

test('waiting grows to five minutes at most, with full jitter', () => {
  assert.equal(backoff(1, () => 1), 2000);
  assert.equal(backoff(50, () => 1), 300_000);
  assert.equal(backoff(50, () => 0), 0);
});

function sender(results, { ours = { kind: 'ours' } } = {}) {
  const clock = { now: NOW };
  const calls = [];
  const reports = [];
  const outbox = { sendDue: async (options) => { calls.push(options.hurried); return results.shift() ?? { kind: 'done' }; } };
  const made = createSender({ outbox, ours: async () => ours, waiting: async () => true, report: (result) => reports.push(result.kind), now: () => clock.now, random: () => 1 });
  return { made, calls, reports, clock };
}

test('after a failure the phone waits, and the button ends the wait', async () => {
  const { made, calls, clock } = sender([{ kind: 'wait', reason: 'busy', after_s: null }, { kind: 'wait', reason: 'busy', after_s: 60 }]);
  await made.poke();
  await made.poke();
  assert.deepEqual(calls, [false]);
  clock.now += 2001;
  await made.poke();
  clock.now += 59_000;
  await made.poke();
  assert.deepEqual(calls, [false, false]);
  await made.poke({ hurried: true });
  assert.deepEqual(calls, [false, false, true]);
});

test('a poke while sending is not lost', async () => {
  const { made, calls } = sender([]);
  await Promise.all([made.poke(), made.poke()]);
  assert.equal(calls.length, 2);
});

test('the button pressed during an attempt that fails tries once more at once', async () => {
  const { made, calls } = sender([{ kind: 'wait', reason: 'busy', after_s: null }]);
  await Promise.all([made.poke(), made.poke({ hurried: true }), made.poke()]);
  assert.deepEqual(calls, [false, true]);
});

test('counts never travel under another person’s pass', async () => {
  const { made, calls, reports } = sender([], { ours: { kind: 'no_pass', problem: null } });
  await made.poke({ hurried: true });
  assert.deepEqual([calls, reports], [[], ['no_pass']]);
});

test('the pack stays when there is no answer', async () => {
  const store = memoryStore();
  const pack = { rounds: [{ uid: 'r', plots: [{ uid: 'p' }] }], species: [] };
  await refreshPack({ service: { pack: async () => pack }, store });
  await assert.rejects(refreshPack({ service: { pack: async () => { throw new Error('offline'); } }, store }));
  const kept = (await keptPack(store)).pack;
  assert.equal(findPlot(kept, 'r', 'p').plot.uid, 'p');
  assert.equal(findPlot(kept, 'r', 'gone'), null);
});

test('a species that is invasive here cannot be chosen as planted, but can be found as regeneration', () => {
  const pack = { species: [{ slug: 'acacia-dealbata', scientific_name: 'Acacia dealbata', names: {}, invasive_in: ['PT'] }, { slug: 'quercus-robur', scientific_name: 'Quercus robur', names: { pt: 'carvalho' }, invasive_in: [] }] };
  assert.deepEqual(speciesChoices(pack, 'pt', { country: 'PT', invasive: 'leave_out' }), [['quercus-robur', 'carvalho (Quercus robur)']]);
  assert.deepEqual(speciesChoices(pack, 'pt', { country: 'PT', invasive: 'invasora' })[0], ['acacia-dealbata', 'Acacia dealbata – invasora']);
  assert.equal(speciesChoices(pack, 'en', { country: 'KE', invasive: 'leave_out' }).length, 2);
});

test('the code leaves the address bar at once', () => {
  const replaced = [];
  assert.equal(takeCode({ hash: '#code=ABCD-EFGH-JK', pathname: '/field/' }, { replaceState: (...call) => replaced.push(call) }), 'ABCD-EFGH-JK');
  assert.deepEqual(replaced, [[null, '', '/field/']]);
  assert.equal(takeCode({ hash: '#/plots', pathname: '/field/' }, { replaceState: assert.fail }), '');
});

test('a code is read however it was typed', () => {
  assert.equal(tidyCode('  abcd efgh–jk '), 'ABCD-EFGH-JK');
  assert.deepEqual(readRoute('#/count/r/p'), { name: 'count', rest: ['r', 'p'] });
  assert.deepEqual(readRoute(''), { name: 'plots', rest: [] });
});

test('a mark says the worst that is true', () => {
  const item = (state) => ({ id: 'i', plot: 'p', round: 'r', state, saved_at: 1, body: '{"parents":[]}' });
  const mark = (items, draft, counted) => plotMark(items, draft, { uid: 'p', counted }, 'r');
  assert.equal(mark([item('needs_help')], true, true), 'needs_help');
  assert.equal(mark([item('acked')], true, true), 'draft');
  for (const state of ['queued', 'sending']) assert.equal(mark([item(state)], false, true), 'saved');
  assert.equal(mark([item('acked')], false, false), 'sent');
  assert.equal(mark([], false, true), 'counted');
  assert.equal(mark([], false, false), 'open');
  assert.equal(doneCount({ uid: 'r', plots: [{ uid: 'a' }, { uid: 'b' }, { uid: 'c' }] }, new Map([['r:a', 'saved'], ['r:b', 'draft'], ['r:c', 'counted']])), 2);
});

test('the file holds every unsent item as it would travel, open drafts as typed, and nothing that was sent', () => {
  const item = (id, state) => ({ id, state, kind: 'visit', schema: 'visit/1', sha256: 's', body: '{}', personal: '{}', due_at: 1 });
  const file = JSON.parse(unsentText(['queued', 'sending', 'needs_help', 'replaced', 'acked'].map((state) => item(state, state)), [{ key: 'k', note: 'half done' }], { passUid: 'p', label: 'l', savedAt: 'now' }));
  assert.deepEqual(file.items.map(({ id }) => id), ['queued', 'sending', 'needs_help', 'replaced']);
  assert.deepEqual(file.drafts, [{ key: 'k', note: 'half done' }]);
  assert.deepEqual(Object.keys(file.items[0]), ['id', 'kind', 'schema', 'sha256', 'body', 'personal']);
});

test('the phone is called safe only when the browser has promised', async () => {
  const storage = (granted) => ({ persisted: async () => false, persist: async () => granted });
  assert.deepEqual(await askToKeep(storage(true)), { kept: true, asked: true });
  assert.deepEqual(await askToKeep(storage(false)), { kept: false, asked: true });
  assert.deepEqual(await askToKeep(undefined), { kept: false, asked: false });
  assert.equal(safetyKey({ kept: false }, { navigator: { standalone: false } }), 'safe_not_apple_tab');
  assert.equal(safetyKey({ kept: false }, { navigator: {} }), 'safe_not_promised');
  assert.equal(safetyKey({ kept: true }, { navigator: { standalone: false } }), 'safe_here');
});

test('errors carry the server’s words, and a stranger’s page carries none', async () => {
  const answer = (response) => createService({ fetch: async () => response }).pack();
  await assert.rejects(answer(problem(400, 'broken', 'Say it again.')), { reason: 'refused', message: 'Say it again.' });
  await assert.rejects(answer(problem(401, 'no_pass', 'Enter your code.')), { reason: 'no_pass' });
  await assert.rejects(answer(html(200)), { reason: 'portal', problem: null });
  await assert.rejects(answer(html(503)), { reason: 'busy' });
  await assert.rejects(createService({ fetch: async () => { throw new TypeError('no route'); } }).pack(), { reason: 'offline' });
});

test('days and instants are written as RFC 3339 with the phone’s own offset', () => {
  const date = new Date(2026, 10, 25, 9, 14, 3, 120);
  assert.equal(localDay(date), '2026-11-25');
  assert.match(instantWithOffset(date), /^2026-11-25T09:14:03\.120[+-]\d\d:\d\d$/);
  assert.equal(Date.parse(instantWithOffset(date)), date.getTime());
  for (const [text, right] of [['2026-11-25', true], ['2026-02-30', false], ['25/11/2026', false], ['', false]]) assert.equal(isDay(text), right, text);
  assert.equal(dayInWords('2026-11-25', 'en'), '25 November 2026');
});

test('ids are version 7 and order by time', () => {
  const id = uuid7(NOW);
  assert.match(id, /^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
  assert.equal(parseInt(id.replaceAll('-', '').slice(0, 12), 16), NOW);
  assert.ok(uuid7(NOW) < uuid7(NOW + 1));
  assert.equal(new Set(Array.from({ length: 1000 }, () => uuid7(NOW))).size, 1000);
});
