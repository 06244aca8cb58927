import assert from 'node:assert/strict';
import { readFileSync, readdirSync } from 'node:fs';
import { test } from 'node:test';
import { SIGNS } from '../../monitoring/static/phone/arithmetic.js';
import { MARKS } from '../../monitoring/static/phone/marks.js';
import { CATALOGUES, LANGUAGES, translator } from '../../monitoring/static/phone/messages.js';

const { en } = CATALOGUES;
const folder = new URL('../../monitoring/static/phone/', import.meta.url);
const sources = readdirSync(folder, { recursive: true }).filter((name) => name.endsWith('.js') && !/^(messages|vendor)\//.test(name));
const source = sources.map((name) => readFileSync(new URL(name, folder), 'utf8')).join('\n');

const forms = (message) => (typeof message === 'string' ? { other: message } : message);
const placeholders = (text) => [...text.matchAll(/\{(\w+)\}/g)].map((match) => match[1]).sort();

test('every language offered has a catalogue', () => {
  assert.deepEqual(Object.keys(LANGUAGES).sort(), ['en', 'es', 'fr', 'pt', 'sw']);
  assert.deepEqual(Object.keys(CATALOGUES).sort(), Object.keys(LANGUAGES).sort());
});

for (const [language, catalogue] of Object.entries(CATALOGUES)) {
  test(`${language} has every message, with the same placeholders in every form`, () => {
    assert.deepEqual(Object.keys(catalogue), Object.keys(en));
    for (const [key, message] of Object.entries(catalogue)) {
      assert.equal(typeof message, typeof en[key], key);
      const wanted = placeholders(forms(en[key]).other);
      for (const text of Object.values(forms(message))) {
        assert.ok(text.trim().length > 0, key);
        assert.deepEqual(placeholders(text), wanted, `${language} ${key}`);
      }
    }
  });

  test(`${language} counts 0, 1, 2, 5, 21, 100 and a million without an empty word`, () => {
    const t = translator(language);
    for (const [key, message] of Object.entries(catalogue)) {
      if (typeof message === 'string') continue;
      for (const count of [0, 1, 2, 5, 21, 100, 1_000_000]) assert.match(t(key, { count, done: 0 }), new RegExp(String(count)), key);
    }
  });
}

test('a translation is not English left behind: words alike are named here', () => {
  const alike = { pt: [], es: ['error_prefix'], fr: ['code', 'shape_rectangle', 'removal_construction', 'note', 'release'], sw: [] };
  for (const [language, keys] of Object.entries(alike)) {
    const same = Object.keys(en).filter((key) => typeof en[key] === 'string' && CATALOGUES[language][key] === en[key]);
    assert.deepEqual(same, keys, language);
  }
});

test('every message the form asks for exists', () => {
  const asked = [...source.matchAll(/\b(?:t|say)\('(\w+)'/g)].map((match) => match[1]);
  const named = [...source.matchAll(/'((?:error|hint|safe|trouble|fate|mark|help|problem)_[a-z_]+)'/g)].map((match) => match[1]);
  assert.ok(asked.length > 100);
  for (const key of [...asked, ...named]) assert.ok(key in en, key);
});

test('every code the contract knows has words', () => {
  const families = {
    flag: 'over_baseline sum_open future_date before_planting late contradicts_earlier clock_skew second_root orphan not_on_this_round unknown_baseline before_lifting odd_temperature no_reason put_away done_already dropped_already not_later',
    reason: 'unsafe refused not_located not_reached burnt slid built_on other',
    shape: 'circle rectangle row whole_block holding single_tree', planted: 'at_planting later visible_spots none', source: 'visible_spots later none',
    alive: 'tree seed_spot seed_area', alive_hint: 'tree seed_spot seed_area', baseline: 'tree seed_spot seed_area', error_alive_empty: 'tree seed_spot seed_area',
    spot: 'alive dead_stem empty_spot not_found not_assessed', removal: 'thinning theft construction other', height: 'lower upper',
    point: 'nursery arrival field_store crew', root: 'moist drying dry spoilt frozen not_seen', verdict: 'accept hold reject',
    seen: 'stock_in fence guards weeds invaders dry loose disease damage other', urgency: 'now week month note', kind: 'handover walk care',
    trouble: 'offline busy portal no_pass refused unknown', sign: SIGNS.join(' '),
  };
  for (const [family, codes] of Object.entries(families)) for (const code of codes.split(' ')) assert.ok(`${family}_${code}` in en, `${family}_${code}`);
  for (const { key } of Object.values(MARKS)) assert.ok(`${key}_help` in en, key);
});

test('no message is kept that nothing shows', () => {
  const dynamic = /^(flag|reason|shape|planted|source|alive|alive_hint|baseline|error_alive_empty|spot|removal|height|trouble|sign|mark|point|root|verdict|seen|urgency|kind|check)_/;
  const unused = Object.keys(en).filter((key) => !dynamic.test(key) && !new RegExp(`\\b${key}\\b`).test(source));
  assert.deepEqual(unused, []);
});

test('an unknown flag is shown as the server wrote it', () => {
  assert.equal(translator('fr')('flag_something_new', {}, 'something_new'), 'something_new');
});
