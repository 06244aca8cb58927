/** The drafts of field work whose sent form is kept in tests/golden: one per thing a crew can say. */

import { emptySign, newCare, newHandover, newWalk } from '../../monitoring/static/phone/work_draft.js';
import { uid } from './cases.mjs';

export const LOT = { uid: uid(301), code: '26-014', species: 'quercus-robur', stated: 1000, at_hand: 1000, last_check: null };
export const BLOCK = { uid: uid(302), name: 'Upper terraces', site: { uid: uid(7), name: 'Vale' }, hazards: '', emergency: '' };
export const TASK = { uid: uid(303), kind: 'water', what: 'Water the young oaks', amount: 120, amount_unit: 'l', due_from: null, due_by: '2026-11-30' };

export const CONTEXT = { recordedAt: '2026-11-25T09:20:00.000+00:00', clockOffsetMs: -1200, author: 'Volunteer, terraces', device: 'field phone 3' };
const AT = '2026-11-25T09:14:03.120+01:00';
export const PICTURE = 'ab'.repeat(32);
export const ANOTHER = 'cd'.repeat(32);

const check = (id, answers) => ({ ...newHandover(LOT, { at: AT, id: uid(id) }), ...answers });
const walk = (id, signs, answers = {}) => ({ ...newWalk(BLOCK, { today: '2026-11-25', id: uid(id) }), signs: signs.map((row) => ({ ...emptySign(), ...row })), ...answers });
const care = (id, answers) => ({ ...newCare(TASK, { today: '2026-11-25', id: uid(id) }), ...answers });

export const WORK_CASES = {
  handover_1: {
    accepted: () => check(9301, { counted: '998', root_condition: 'moist', verdict: 'accept' }),
    every_field: () => check(9302, {
      point: 'crew', counted: '1000', box_temperature_c: '−1,5', minutes_exposed: '12', root_condition: 'drying', sample_size: '60', sample_bad: '4',
      heights_cm: '45 52,5 38', collars_mm: '6 7.2 5', verdict: 'hold', because: ' roots dry at the surface ', photos: [PICTURE, ANOTHER], note: ' Two boxes were open. ',
    }),
  },
  walk_1: {
    nothing_seen: () => walk(9401, []),
    two_signs: () => walk(9402, [
      { sign: 'fence', urgency: 'week', where: ' north corner ', place: { latitude: 40.512345, longitude: -7.101234, accuracy_m: 8 }, note: ' two posts ', photos: [PICTURE] },
      { sign: 'weeds', urgency: 'note' },
    ], { note: 'Windy.' }),
  },
  care_1: {
    done: () => care(9501, { amount: '110,5', photos: [PICTURE], note: 'Half by hand.' }),
    put_off: () => care(9502, { outcome: 'put_off', until: '2026-12-20', because: ' it rained ', amount: '3' }),
  },
};
