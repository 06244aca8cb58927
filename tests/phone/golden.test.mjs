/** What leaves the phone, byte for byte. Set WRITE_GOLDEN=1 to write a case that is new; a released one never changes. */

import assert from 'node:assert/strict';
import { createHash } from 'node:crypto';
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { test } from 'node:test';
import { sealVisit } from '../../monitoring/static/phone/visit.js';
import { CASES, CONTEXT, correctionOf } from './cases.mjs';

const place = (name) => new URL(`../golden/visit_1/${name}.json`, import.meta.url);

async function check(name, { draft, plot }) {
  const item = await sealVisit(draft, { ...CONTEXT, baselines: plot.baselines });
  if (process.env.WRITE_GOLDEN && !existsSync(place(name))) writeFileSync(place(name), `${JSON.stringify(item, null, 2)}\n`);
  assert.deepEqual(item, JSON.parse(readFileSync(place(name), 'utf8')));
  assert.equal(item.sha256, createHash('sha256').update(item.body, 'utf8').digest('hex'));
  return item;
}

for (const [name, make] of Object.entries(CASES)) {
  test(`the visit "${name}" leaves the phone as it always has`, () => check(name, make()));
}

test('a correction names the revision it corrects, and keeps the visit', async () => {
  const root = JSON.parse(readFileSync(place('counted'), 'utf8'));
  const body = JSON.parse((await check('correction', correctionOf(root))).body);
  assert.deepEqual(body.parents, [root.id]);
  assert.equal(body.visit, root.id);
  assert.equal(body.lines[1].alive, 7);
  assert.deepEqual(body.lines[0], JSON.parse(root.body).lines[0]);
});

test('a note and a position travel apart from the counts', async () => {
  const item = JSON.parse(readFileSync(place('every_field'), 'utf8'));
  assert.ok(!item.body.includes('Fence') && !item.body.includes('40.512345'));
  assert.equal(JSON.parse(item.personal).note, 'Fence down at the north corner.');
});
