/** The drafts whose sent form is kept in tests/golden/visit_1: one per thing a crew can say. */

import { correctionDraft, emptyLine, emptyRegeneration, emptyRemoval, newDraft } from '../../monitoring/static/phone/draft.js';

export const uid = (number) => `01990000-0000-7000-8000-${String(number).padStart(12, '0')}`;
const baseline = (number, species, planted, unit = 'tree', cohort = '') => ({ uid: uid(number), species, planted, unit, cohort, source: planted === null ? 'none' : 'at_planting' });

export const OAK = baseline(101, 'quercus-robur', 24);
export const BIRCH = baseline(102, 'betula-pubescens', 8);
export const OAK_LATER = baseline(103, 'quercus-robur', 18);
export const ACORNS = baseline(104, 'quercus-suber', 40, 'seed_spot');

export const ROUND = { uid: uid(1), name: 'Autumn 2026', opens_on: '2026-10-01', closes_on: '2026-12-20', country: 'PT' };
const plot = (number, baselines) => ({ uid: uid(number), name: `Plot ${number}`, baselines, unit: baselines[0]?.unit ?? 'tree', counted: false, last: null });
export const PLAIN = plot(11, [OAK, BIRCH]);
export const MIXED = plot(12, [OAK, OAK_LATER, BIRCH]);
export const SEEDS = plot(13, [ACORNS]);
export const BARE = plot(14, []);

const TODAY = '2026-11-25';
const start = (of, id) => newDraft({ plot: of, round: ROUND, today: TODAY, id: uid(id) });
const typed = (line, answers) => ({ ...line, ...answers });

function counted() {
  const draft = start(PLAIN, 9001);
  draft.lines = [typed(draft.lines[0], { alive: '18', dead_stem: '3' }), typed(draft.lines[1], { alive: '8', empty_spot: '0', not_found: '0' })];
  return { draft, plot: PLAIN };
}

function everyField() {
  const draft = start(MIXED, 9002);
  const merged = emptyLine([OAK, OAK_LATER]);
  draft.lines = [
    typed(merged, {
      alive: '30', dead_stem: '5', empty_spot: '3', not_found: '2', not_assessed: '2', resprout: '4', origin_uncertain: '1',
      signs: { bitten: '3', frost_blackened: '1', none_seen: '1' }, heights_cm: '45 52, 38', spots: [{ spot: 'A1', status: 'alive' }, { spot: ' A2 ', status: 'dead_stem' }, { spot: '', status: 'alive' }],
    }),
    typed(draft.lines[2], { alive: '٥', dead_stem: '1' }),
  ];
  draft.regeneration = [
    { ...emptyRegeneration(), species: 'betula-pubescens', lower: '20', lower_capped: true, upper: '3', subplot_area_m2: '12,5' },
    { ...emptyRegeneration(), name: ' wild cherry ', upper: '1' },
  ];
  draft.removals = [{ ...emptyRemoval(BIRCH.uid, '2026-11-20'), alive_removed: '2' }];
  draft.note = ' Fence down at the north corner. ';
  draft.position = { latitude: 40.512345, longitude: -7.101234, accuracy_m: 8 };
  return { draft, plot: MIXED };
}

function seedSpots() {
  const draft = start(SEEDS, 9003);
  draft.lines = [typed(draft.lines[0], { alive: '22', seedlings: '31', empty_spot: '10' })];
  return { draft, plot: SEEDS };
}

function noBaseline() {
  const draft = start(BARE, 9004);
  const seen = { uid: uid(199), species: 'quercus-robur', cohort: null, planted: '15', unit: 'tree', source: 'visible_spots', counted_on: TODAY };
  draft.baselines = [seen];
  draft.lines = [typed(emptyLine([seen]), { alive: '11', empty_spot: '4' })];
  return { draft, plot: BARE };
}

const unsafe = () => ({ draft: { ...start(PLAIN, 9005), status: 'missing', reason: 'unsafe' }, plot: PLAIN });
const slid = () => ({ draft: { ...start(MIXED, 9006), status: 'destroyed', reason: 'slid' }, plot: MIXED });

export const CONTEXT = { capturedAt: '2026-11-25T09:14:03.120+00:00', clockOffsetMs: -1200, author: 'Volunteer, terraces', device: 'field phone 3' };

/** A correction of the plain count: the birch line changes, the rest stays as it was. */
export function correctionOf(item) {
  const draft = correctionDraft({ ...item, state: 'acked' }, PLAIN, uid(9007));
  draft.lines[1].alive = '7';
  draft.lines[1].dead_stem = '1';
  return { draft, plot: PLAIN };
}

export const CASES = { counted, every_field: everyField, seed_spots: seedSpots, no_baseline: noBaseline, unsafe, destroyed_slid: slid };
