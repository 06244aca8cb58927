/** What field work sends, byte for byte. Set WRITE_GOLDEN=1 to write a case that is new; a released one never changes. */

import assert from 'node:assert/strict';
import { createHash } from 'node:crypto';
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { test } from 'node:test';
import { workProblems } from '../../monitoring/static/phone/work_checks.js';
import { sealWork } from '../../monitoring/static/phone/work_record.js';
import { CONTEXT, WORK_CASES } from './work_cases.mjs';

const place = (folder, name) => new URL(`../golden/${folder}/${name}.json`, import.meta.url);

for (const [folder, cases] of Object.entries(WORK_CASES)) {
  for (const [name, make] of Object.entries(cases)) {
    test(`the ${folder} record "${name}" leaves the phone as it always has`, async () => {
      assert.deepEqual(workProblems(make(), '2026-11-25'), []);
      const item = await sealWork(make(), CONTEXT);
      if (process.env.WRITE_GOLDEN && !existsSync(place(folder, name))) writeFileSync(place(folder, name), `${JSON.stringify(item, null, 2)}\n`);
      assert.deepEqual(item, JSON.parse(readFileSync(place(folder, name), 'utf8')));
      assert.equal(item.sha256, createHash('sha256').update(item.body, 'utf8').digest('hex'));
    });
  }
}

test('notes travel apart from the record, so that they can be erased', async () => {
  const walk = await sealWork(WORK_CASES.walk_1.two_signs(), CONTEXT);
  assert.ok(!walk.body.includes('two posts') && !walk.body.includes('Windy'));
  assert.deepEqual([JSON.parse(walk.personal).note, JSON.parse(walk.personal).sign_notes], ['Windy.', ['two posts', '']]);
  const check = await sealWork(WORK_CASES.handover_1.every_field(), CONTEXT);
  assert.ok(!check.body.includes('boxes'));
});
