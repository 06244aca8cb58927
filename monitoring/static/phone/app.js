/** Starts the phone form: from the cache, with no cookie and no network if need be. */

import { heading, h } from './dom.js';
import { buildFrame } from './frame.js';
import { translator } from './messages.js';
import { Phone, pickLanguage } from './phone.js';
import { readRoute, routes, takeCode } from './routes.js';
import { askToKeep } from './safety.js';
import { careScreen, tasksScreen } from './screens/care.js';
import { checkScreen, lotsScreen } from './screens/check_plants.js';
import { countScreen } from './screens/count.js';
import { enrolScreen } from './screens/enrol.js';
import { helpScreen } from './screens/help.js';
import { leaveScreen } from './screens/leave.js';
import { outboxScreen } from './screens/outbox.js';
import { plotScreen } from './screens/plot.js';
import { plotsScreen } from './screens/plots.js';
import { recordedScreen } from './screens/recorded.js';
import { reviewScreen } from './screens/review.js';
import { savedScreen } from './screens/saved.js';
import { blocksScreen, walkScreen } from './screens/walk.js';
import { createService } from './session.js';
import { openPhoneStore } from './store.js';
import { watchForUpdates } from './updates.js';

const TRY_EVERY_MS = 30_000;
const SCREENS = {
  plots: plotsScreen, plot: plotScreen, count: countScreen, review: reviewScreen, saved: savedScreen,
  lots: lotsScreen, check: checkScreen, blocks: blocksScreen, walk: walkScreen, tasks: tasksScreen, care: careScreen, recorded: recordedScreen,
  outbox: outboxScreen, enrol: enrolScreen, leave: leaveScreen, help: helpScreen,
};

const code = takeCode(location, history);

/** Draw the screen the address names; a screen that fails says so and loses nothing. */
function router(phone) {
  let drawn = 0;
  return async ({ quiet = false } = {}) => {
    const turn = ++drawn;
    const late = takeCode(location, history); // a link opened while the form is open only changes the hash
    if (late) {
      phone.code = late;
      history.replaceState(null, '', routes.enrol());
    }
    const { name, rest } = readRoute(location.hash);
    const missing = rest.length === 2 && phone.store && !phone.find(...rest);
    const screen = missing ? plotsScreen : SCREENS[name] ?? plotsScreen;
    phone.onSent = () => {};
    const allowed = phone.store || screen === helpScreen ? screen : enrolScreen;
    let content;
    try {
      content = await allowed(phone, rest);
    } catch (error) {
      content = [heading(phone.t('screen_failed')), h('p', {}, String(error?.message ?? error))];
    }
    if (turn !== drawn || !content) return; // a later screen was asked for, or this one sent us on
    const title = content.flat(Infinity).find((element) => element?.tagName === 'H1')?.textContent;
    phone.frame.show(content, title, { quiet });
    await phone.tell();
  };
}

/** Show a fresh list where the list is shown; an open count is never drawn again under somebody's fingers. */
async function redrawList(phone) {
  if (readRoute(location.hash).name === 'plots') await phone.render({ quiet: true });
}

function keepTrying(phone) {
  const poke = () => {
    if (!phone.store || document.visibilityState !== 'visible') return;
    phone.tell();
    phone.sender.poke();
  };
  window.addEventListener('online', async () => {
    if (!phone.store) return;
    await phone.sendNow();
    await phone.refresh();
    await redrawList(phone);
  });
  document.addEventListener('visibilitychange', poke);
  setInterval(poke, TRY_EVERY_MS);
}

async function start() {
  const root = document.getElementById('app');
  const phoneStore = await openPhoneStore();
  const phone = new Phone({ service: createService({ fetch: window.fetch.bind(window) }), phoneStore, release: document.documentElement.dataset.release, code });
  phone.setLanguage(pickLanguage(await phoneStore.kept('language'), navigator.languages ?? [navigator.language]));
  phone.frame = buildFrame(root, phone);
  if (!window.isSecureContext) return phone.frame.show([heading(phone.t('insecure_title')), h('p', {}, phone.t('insecure_text'))]);
  phone.render = router(phone);
  const pass = await phoneStore.kept('pass');
  if (pass) await phone.openPass(pass);
  phone.safety = await askToKeep();
  window.addEventListener('hashchange', () => phone.render());
  window.addEventListener('pageshow', (event) => { if (event.persisted) phone.render(); });
  if (code) history.replaceState(null, '', routes.enrol());
  await phone.render();
  keepTrying(phone);
  if (phone.store) {
    phone.sendNow();
    await phone.refresh();
    await redrawList(phone);
  }
  await watchForUpdates({ onWaiting: phone.frame.offerUpdate });
  return null;
}

start().catch((error) => {
  const t = translator(pickLanguage(null, navigator.languages ?? []));
  const words = h('p', { role: 'alert', class: 'notice' }, t('start_failed', { detail: error?.message ?? String(error) }));
  document.getElementById('app').append(h('main', {}, words));
});
