import assert from 'node:assert/strict';
import { test } from 'node:test';
import { asciiDigits, decimalNumber, expectedOf, lineSum, plantedOf, stepped, wholeNumber } from '../../monitoring/static/phone/arithmetic.js';
import { hints, problems } from '../../monitoring/static/phone/checks.js';
import { correctionDraft, emptyLine, emptyRemoval, isTouched, mergeLines, newDraft, splitLine } from '../../monitoring/static/phone/draft.js';
import { BIRCH, CASES, MIXED, OAK, OAK_LATER, PLAIN, ROUND } from './cases.mjs';

const line = (answers) => ({ ...emptyLine([OAK]), ...answers });

test('an empty field is not 0, and what is not a whole number is not guessed at', () => {
  assert.equal(wholeNumber(''), null);
  assert.equal(wholeNumber('0'), 0);
  assert.equal(wholeNumber(' 1 200 '), 1200);
  for (const typed of ['-3', '2.5', '1,2', 'ten', '1e3']) assert.ok(Number.isNaN(wholeNumber(typed)), typed);
});

test('digits of other scripts are read', () => {
  assert.equal(asciiDigits('٤٢'), '42');
  assert.equal(wholeNumber('४२'), 42);
  assert.equal(decimalNumber('12,5'), 12.5);
  assert.equal(decimalNumber('12.5'), 12.5);
});

test('not found is the remainder until somebody types it', () => {
  assert.deepEqual(lineSum(line({ alive: '18', dead_stem: '3' }), 24), { seen: 21, remainder: 3, notFound: 3, total: 24, expected: 24, gap: 0, closes: true });
  assert.equal(lineSum(line({ alive: '18', not_found: '0' }), 24).gap, 6);
  assert.equal(lineSum(line({ alive: '30' }), 24).gap, -6);
});

test('trees removed alive are not looked for', () => {
  const removals = [{ ...emptyRemoval(OAK.uid, '2026-11-20'), alive_removed: '4' }];
  assert.equal(expectedOf(line({}), [OAK, BIRCH], removals), 20);
  assert.equal(lineSum(line({ alive: '18' }), 20).remainder, 2);
});

test('a line without a baseline number has nothing to close to', () => {
  assert.equal(plantedOf(line({}), [{ ...OAK, planted: null }]), null);
  assert.deepEqual([lineSum(line({ alive: '9' }), null).total, lineSum(line({ alive: '9' }), null).closes], [9, true]);
});

test('the keys never go below 0 and start from what an empty box stands for', () => {
  assert.equal(stepped('', 1), '1');
  assert.equal(stepped('0', -1), '0');
  assert.equal(stepped('', 1, 3), '4');
  assert.equal(stepped('x', 1), '1');
});

test('a count needs an answer for alive on every line, and 0 is an answer', () => {
  const draft = newDraft({ plot: PLAIN, round: ROUND, today: '2026-11-25' });
  draft.lines[0].alive = '0';
  assert.deepEqual(problems(draft).map(({ field, key, line: at }) => [field, key, at]), [['field-line-1-alive', 'error_alive_empty_tree', 1]]);
  draft.lines[1].alive = '-2';
  assert.deepEqual(problems(draft)[0], { field: 'field-line-1-alive', key: 'error_whole', values: { typed: '-2' }, line: 1 });
});

test('odd counts are hinted at and never block', () => {
  const draft = newDraft({ plot: PLAIN, round: ROUND, today: '2026-11-25' });
  Object.assign(draft, { observed_on: '2026-11-26' });
  Object.assign(draft.lines[0], { alive: '30', resprout: '31', origin_uncertain: '31', heights_cm: '9000', signs: { bitten: '99' } });
  Object.assign(draft.lines[1], { alive: '3', not_found: '1' });
  const found = hints(draft, { baselines: PLAIN.baselines, round: ROUND, today: '2026-11-25' });
  assert.deepEqual(found.map(({ key }) => key), ['hint_future', 'hint_over', 'hint_resprout', 'hint_origin', 'hint_signs', 'hint_heights', 'hint_open']);
  assert.deepEqual(problems(draft), []);
});

test('a plain count gives no hint at all', () => {
  const { draft, plot } = CASES.counted();
  assert.deepEqual(hints(draft, { baselines: plot.baselines, round: ROUND, today: '2026-11-25' }), []);
});

test('plantings that cannot be told apart become one line, and come apart again', () => {
  const { lines } = newDraft({ plot: MIXED, round: ROUND, today: '2026-11-25' });
  const merged = mergeLines(lines, 1);
  assert.deepEqual(merged.map((one) => one.baselines), [[OAK.uid, OAK_LATER.uid], [BIRCH.uid]]);
  assert.equal(plantedOf(merged[0], MIXED.baselines), 42);
  assert.deepEqual(splitLine(merged, 0).map((one) => one.baselines), [[OAK.uid], [OAK_LATER.uid], [BIRCH.uid]]);
});

test('counting plantings together keeps what was typed, added up', () => {
  const { lines } = newDraft({ plot: MIXED, round: ROUND, today: '2026-11-25' });
  Object.assign(lines[0], { alive: '12', signs: { bitten: '2' }, heights_cm: '40' });
  Object.assign(lines[1], { alive: '9', dead_stem: '1', signs: { bitten: '1', mown: '' } });
  const [merged] = mergeLines(lines, 0);
  assert.deepEqual([merged.alive, merged.dead_stem, merged.empty_spot, merged.not_found, merged.signs, merged.heights_cm], ['21', '1', '', '', { bitten: '3' }, '40']);
  assert.deepEqual([isTouched(merged), isTouched(splitLine([merged], 0)[0])], [true, false]);
});

test('a correction of a refused first count starts afresh, of a refused correction keeps its parents', () => {
  const item = (parents) => ({ id: 'old', state: 'needs_help', body: JSON.stringify({ visit: 'root', parents, plot: 'p', round: 'r', purpose: 'survival', observed_on: '2026-11-25', status: 'counted', reason: '', baselines: [], lines: [], regeneration: [], removals: [] }), personal: '' });
  const first = correctionDraft(item([]), PLAIN, 'new');
  assert.deepEqual([first.visit, first.parents, first.replaces], ['new', [], 'old']);
  const later = correctionDraft(item(['root']), PLAIN, 'new');
  assert.deepEqual([later.visit, later.parents, later.replaces], ['root', ['root'], 'old']);
});
