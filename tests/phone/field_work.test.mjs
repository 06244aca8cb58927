/** Field work on the phone: what stops it from being saved, how it is saved, and the way of its pictures. */

import assert from 'node:assert/strict';
import { createHash } from 'node:crypto';
import { test } from 'node:test';
import { classifyPicture } from '../../monitoring/static/phone/answers.js';
import { contentDigest, sha256Bytes } from '../../monitoring/static/phone/identifiers.js';
import { findWork } from '../../monitoring/static/phone/pack.js';
import { createPictureSender, drawnSize, keepPicture } from '../../monitoring/static/phone/pictures.js';
import { saveWork } from '../../monitoring/static/phone/saving.js';
import { workMark } from '../../monitoring/static/phone/screens/work_parts.js';
import { createService } from '../../monitoring/static/phone/session.js';
import { workProblems } from '../../monitoring/static/phone/work_checks.js';
import { mended, offered, picturesOf } from '../../monitoring/static/phone/work_draft.js';
import { measures, temperature } from '../../monitoring/static/phone/work_record.js';
import { sendingWords, workName } from '../../monitoring/static/phone/words.js';
import { translator } from '../../monitoring/static/phone/messages.js';
import { uid } from './cases.mjs';
import { html, problem } from './memory_server.mjs';
import { memoryStore } from './memory_store.mjs';
import { BLOCK, LOT, PICTURE, TASK, WORK_CASES } from './work_cases.mjs';

const NOW = Date.UTC(2026, 10, 25, 9, 20);
const TODAY = '2026-11-25';
const BYTES = new Uint8Array([0xff, 0xd8, 0xff, 1, 2, 3, 0xff, 0xd9]).buffer;
const found = (draft) => workProblems(draft, TODAY).map(({ field, key }) => `${field} ${key}`);
const check = (answers) => ({ ...WORK_CASES.handover_1.accepted(), ...answers });

test('a temperature is read with either mark and any minus, and nothing else', () => {
  assert.deepEqual(['', '1,5', '-2', '−0.5', '– 3'].map(temperature), [null, 1.5, -2, -0.5, -3]);
  for (const wrong of ['cold', '--2', '1-2']) assert.ok(Number.isNaN(temperature(wrong)), wrong);
  assert.deepEqual(measures('45 52,5; 38'), [45, 52.5, 38]);
});

for (const [answers, wanted] of [
  [{ verdict: '' }, ['verdict error_verdict']],
  [{ verdict: 'reject' }, ['because error_because']],
  [{ counted: 'many' }, ['counted error_whole']],
  [{ minutes_exposed: '20000' }, ['minutes_exposed error_whole']],
  [{ counted: '2000000' }, ['counted error_whole']],
  [{ box_temperature_c: '200' }, ['box_temperature_c error_temperature']],
  [{ box_temperature_c: 'cold' }, ['box_temperature_c error_temperature']],
  [{ sample_size: '60' }, ['sample_bad error_sample']],
  [{ sample_size: '0', sample_bad: '0' }, ['sample_bad error_sample']],
  [{ sample_size: '10', sample_bad: '11' }, ['sample_bad error_sample']],
  [{ heights_cm: '45 x' }, ['heights_cm error_measures']],
  [{ heights_cm: '45 0' }, ['heights_cm error_measures']],
  [{ heights_cm: '45 50', collars_mm: '6' }, ['collars_mm error_uneven']],
  [{ sample_size: '10', sample_bad: '10', heights_cm: '45', collars_mm: '6', verdict: 'reject', because: 'dry' }, []],
]) {
  test(`a check with ${JSON.stringify(answers)} needs ${wanted.length === 0 ? 'nothing' : wanted}`, () => assert.deepEqual(found(check(answers)), wanted));
}

test('a walk needs its day and the name of each sign; nothing seen needs nothing', () => {
  const walk = WORK_CASES.walk_1.two_signs();
  walk.signs[1].sign = '';
  assert.deepEqual(found({ ...walk, walked_on: '' }), ['walked_on error_day', 'sign-1 error_sign']);
  assert.deepEqual(found(WORK_CASES.walk_1.nothing_seen()), []);
});

test('care is done on a day, or put off to a day to come and with a reason', () => {
  assert.deepEqual(found({ ...WORK_CASES.care_1.done(), done_on: '2026-02-30', amount: 'much' }), ['done_on error_day', 'amount error_number']);
  assert.deepEqual(found({ ...WORK_CASES.care_1.put_off(), until: '2026-11-24', because: ' ' }), ['until error_until', 'because error_because']);
});

async function save(store, draft) {
  await store.keepDraft(draft);
  return saveWork({ store, draft, author: 'a', device: 'd', clock: null, now: NOW });
}

test('saving puts the record into the outbox in one step, once, with the pictures it names', async () => {
  const store = memoryStore();
  const draft = WORK_CASES.handover_1.every_field();
  const first = await save(store, draft);
  const again = await saveWork({ store, draft, author: 'a', device: 'd', clock: null, now: NOW + 500 });
  assert.deepEqual([first.state, first.subject, first.photos, first.id], ['queued', LOT.uid, picturesOf(draft), draft.item_id]);
  assert.deepEqual([again.saved_at, (await store.items()).length, (await store.drafts()).length], [NOW, 1, 0]);
});

test('a refused record is opened again as it was typed, and its text stays beside the new one', async () => {
  const store = memoryStore();
  const first = await save(store, WORK_CASES.care_1.done());
  await store.keepPicture({ sha256: PICTURE, item: first.id, bytes: BYTES, due_at: NOW, problem: null });
  await store.changeItems({ ids: [first.id] }, ([item]) => [{ ...item, state: 'needs_help' }]);
  const draft = mended(await store.item(first.id), uid(9600));
  assert.deepEqual([draft.amount, draft.replaces, draft.subject], ['110,5', first.id, TASK.uid]);
  const second = await save(store, draft);
  const kept = await store.item(first.id);
  assert.deepEqual([kept.state, kept.body, second.id], ['replaced', first.body, uid(9600)]);
  assert.equal((await store.picture(PICTURE)).item, second.id); // the picture goes with the new record
});

test('a row says the worst that is true of what this phone recorded', async () => {
  const item = (state, saved_at = 1) => ({ kind: 'walk', subject: BLOCK.uid, state, saved_at });
  const draft = { key: `walk:${BLOCK.uid}` };
  assert.equal(workMark([], [], 'walk', BLOCK.uid), null);
  assert.equal(workMark([item('acked')], [], 'walk', BLOCK.uid), 'sent');
  assert.equal(workMark([item('acked'), item('queued', 2)], [], 'walk', BLOCK.uid), 'saved');
  assert.equal(workMark([item('acked')], [draft], 'walk', BLOCK.uid), 'draft');
  assert.equal(workMark([item('needs_help')], [draft], 'walk', BLOCK.uid), 'needs_help');
  assert.equal(workMark([item('replaced')], [], 'walk', BLOCK.uid), null);
});

test('a draft of something that left the list stays on it, and says what it is about', () => {
  const draft = WORK_CASES.care_1.done();
  assert.deepEqual(offered([], [draft, WORK_CASES.walk_1.nothing_seen()], 'care'), [TASK]);
  assert.deepEqual(offered([TASK], [draft], 'care'), [TASK]);
  const phone = { about: () => null };
  assert.equal(workName(phone, { kind: 'care', subject: TASK.uid, typed: draft }), TASK.what);
  assert.equal(workName({ about: () => LOT }, { kind: 'handover', subject: LOT.uid }), LOT.code);
});

test('an old pack has no field work, and asking for it is harmless', () => {
  assert.equal(findWork({ rounds: [] }, 'lots', 'x'), null);
  assert.equal(findWork({ work: { lots: [LOT] } }, 'lots', LOT.uid), LOT);
});

// --- pictures -------------------------------------------------------------------------------
test('a picture keeps its shape and no side is over 1600', () => {
  assert.deepEqual(drawnSize(4000, 3000), [1600, 1200]);
  assert.deepEqual(drawnSize(900, 3200), [450, 1600]);
  assert.deepEqual(drawnSize(640, 480), [640, 480]);
});

test('a digest is named to the server as RFC 9530 asks', async () => {
  const sha256 = await sha256Bytes(BYTES);
  assert.equal(sha256, createHash('sha256').update(new Uint8Array(BYTES)).digest('hex'));
  assert.equal(contentDigest(sha256), `sha-256=:${createHash('sha256').update(new Uint8Array(BYTES)).digest('base64')}:`);
});

const answer = (status, content) => new Response(JSON.stringify(content), { status, headers: { 'content-type': 'application/json' } });

test('only an answer for a picture ends its wait', async () => {
  const kinds = async (response) => (await classifyPicture(response)).kind;
  assert.equal(await kinds(answer(200, { sha256: 'x', outcome: 'stored' })), 'kept');
  assert.equal(await kinds(answer(200, { sha256: 'x', outcome: 'already' })), 'kept');
  assert.equal(await kinds(answer(200, { hello: 1 })), 'wait');
  assert.equal(await kinds(html(200)), 'wait');
  assert.equal(await kinds(html(403)), 'wait');
  assert.equal(await kinds(problem(400, 'picture_unnamed', 'Record first.')), 'unnamed');
  assert.equal(await kinds(problem(400, 'digest_differs', 'Damaged.')), 'wait');
  assert.equal(await kinds(problem(400, 'not_a_picture', 'No.')), 'refused');
  assert.equal(await kinds(problem(413, 'too_large', 'No.')), 'refused');
  assert.equal(await kinds(problem(401, 'no_pass', 'Code.')), 'no_pass');
  assert.equal(await kinds(problem(503, 'busy', 'Later.')), 'wait');
});

/** A phone that holds one record and its picture, in front of answers given one by one. */
async function withPicture(...answers) {
  const store = memoryStore();
  const item = await save(store, WORK_CASES.walk_1.two_signs());
  const sha256 = await keepPicture(store, BYTES, item.id, NOW);
  const sent = [];
  const service = { postPicture: async (bytes, name) => { sent.push([bytes.byteLength, name]); return answers.shift() ?? { kind: 'kept' }; } };
  const clock = { now: NOW };
  const sender = createPictureSender({ store, service, now: () => clock.now });
  const arrive = () => store.changeItems({ ids: [item.id] }, ([one]) => [{ ...one, state: 'acked' }]);
  return { store, item, sha256, sent, sender, arrive, clock };
}

test('a picture waits for its record, is sent once it has arrived, and only then leaves the phone', async () => {
  const { store, sha256, sent, sender, arrive, item } = await withPicture();
  await sender.sendDue();
  assert.deepEqual([sent, await store.countPictures(item.id)], [[], 1]);
  await arrive();
  assert.deepEqual(await sender.sendDue(), { kind: 'done' });
  assert.deepEqual([sent, await store.countPictures()], [[[8, sha256]], 0]);
});

test('without an answer the picture stays and goes again', async () => {
  const offline = { kind: 'wait', reason: 'offline', after_s: null };
  const { store, sent, sender, arrive } = await withPicture(offline);
  await arrive();
  assert.deepEqual(await sender.sendDue(), offline);
  assert.equal(await store.countPictures(), 1);
  await sender.sendDue();
  assert.deepEqual([sent.length, await store.countPictures()], [2, 0]);
});

test('a picture the server does not take is kept, shown and not sent again; one not named yet is, later', async () => {
  const refused = await withPicture({ kind: 'refused', problem: { detail: 'No.' } });
  await refused.arrive();
  await refused.sender.sendDue();
  await refused.sender.sendDue({ hurried: true });
  assert.deepEqual([refused.sent.length, (await refused.store.picture(refused.sha256)).problem.detail], [1, 'No.']);
  const unnamed = await withPicture({ kind: 'unnamed' });
  await unnamed.arrive();
  await unnamed.sender.sendDue();
  await unnamed.sender.sendDue();
  assert.equal(unnamed.sent.length, 1);
  unnamed.clock.now += 6 * 60 * 1000;
  await unnamed.sender.sendDue();
  assert.deepEqual([unnamed.sent.length, await unnamed.store.countPictures()], [2, 0]);
});

test('a picture whose sent record made room for others is still sent; one of an open draft is not', async () => {
  const gone = await withPicture();
  await gone.store.removeItems([gone.item.id]);
  await gone.sender.sendDue();
  assert.equal(gone.sent.length, 1);
  const open = await withPicture();
  await open.store.removeItems([open.item.id]);
  await open.store.keepDraft({ key: 'walk:x', item_id: open.item.id });
  await open.sender.sendDue();
  assert.equal(open.sent.length, 0);
});

test('a picture travels as its bytes, with the digest, the token and nothing of JSON', async () => {
  const calls = [];
  const service = createService({ fetch: async (path, options) => {
    calls.push([path, options]);
    return path.endsWith('/session') ? answer(200, { csrf_token: 'tok', server_time: new Date().toISOString() }) : answer(200, { outcome: 'stored' });
  } });
  assert.deepEqual(await service.postPicture(BYTES, PICTURE), { kind: 'kept' });
  const [path, { method, body, headers }] = calls.at(-1);
  assert.deepEqual([path, method, body], ['/api/v1/field/photos', 'POST', BYTES]);
  assert.deepEqual([headers['Content-Type'], headers['X-CSRFToken'], headers['Content-Digest']], ['image/jpeg', 'tok', contentDigest(PICTURE)]);
});

test('the line on top never says that nothing waits while a picture does', () => {
  const words = (counts) => sendingWords(translator('en'), 'en', { unsent: 0, needsHelp: 0, lastSent: null, ...counts });
  assert.deepEqual(words({ pictures: 1 }), ['1 picture still to send']);
  assert.deepEqual(words({ pictures: 0 }), ['nothing to send']);
  assert.deepEqual(words({ unsent: 1, pictures: 2 }), ['1 to send', '2 pictures still to send', 'nothing sent yet']);
});
