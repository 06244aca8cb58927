/** The file of unsent counts, byte for byte. Set WRITE_GOLDEN=1 to write a case that is new; a released one never changes. */

import assert from 'node:assert/strict';
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { test } from 'node:test';
import { unsentText } from '../../monitoring/static/phone/export_file.js';

const golden = (path) => new URL(`../golden/${path}.json`, import.meta.url);
const sealed = (name) => JSON.parse(readFileSync(golden(`visit_1/${name}`), 'utf8'));

test('counts a phone could not send leave it in a file that is always the same', () => {
  const items = [
    { ...sealed('counted'), state: 'queued' },
    { ...sealed('correction'), state: 'sending' },
    { ...sealed('over_baseline'), state: 'queued' },
    { ...sealed('negative_count'), state: 'needs_help' },
    { ...sealed('unsafe'), state: 'acked' },
  ];
  const drafts = [{ key: 'plot', note: 'half done' }];
  const text = unsentText(items, drafts, { passUid: '01990000-0000-7000-8000-000000000900', label: 'old phone', savedAt: '2026-11-25T17:40:00.000Z' });
  const place = golden('unsent_1/four_counts_and_a_draft');
  if (process.env.WRITE_GOLDEN && !existsSync(place)) writeFileSync(place, text);
  assert.equal(text, readFileSync(place, 'utf8'));
});
