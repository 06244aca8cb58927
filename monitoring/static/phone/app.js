/** Starts the phone form: from the cache, with no cookie and no network if need be. */

import { heading, h } from './dom.js';
import { buildFrame } from './frame.js';
import { Phone, pickLanguage } from './phone.js';
import { readRoute, routes, takeCode } from './routes.js';
import { askToKeep } from './safety.js';
import { countScreen } from './screens/count.js';
import { enrolScreen } from './screens/enrol.js';
import { helpScreen } from './screens/help.js';
import { leaveScreen } from './screens/leave.js';
import { outboxScreen } from './screens/outbox.js';
import { plotScreen } from './screens/plot.js';
import { plotsScreen } from './screens/plots.js';
import { reviewScreen } from './screens/review.js';
import { savedScreen } from './screens/saved.js';
import { createService } from './session.js';
import { openPhoneStore } from './store.js';
import { watchForUpdates } from './updates.js';

const TRY_EVERY_MS = 30_000;
const SCREENS = {
  plots: plotsScreen, plot: plotScreen, count: countScreen, review: reviewScreen, saved: savedScreen,
  outbox: outboxScreen, enrol: enrolScreen, leave: leaveScreen, help: helpScreen,
};

const code = takeCode(location, history);

/** Draw the screen the address names; a screen that fails says so and loses nothing. */
function router(phone) {
  let drawn = 0;
  return async () => {
    const turn = ++drawn;
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
    if (turn !== drawn || !content) return;
    const title = content.flat(Infinity).find((element) => element?.tagName === 'H1')?.textContent;
    phone.frame.show(content, title);
    await phone.tell();
  };
}

function keepTrying(phone) {
  const poke = () => { if (phone.store && document.visibilityState === 'visible') phone.sender.poke(); };
  window.addEventListener('online', () => { if (phone.store) phone.sendNow(); });
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
  if (code) location.hash = routes.enrol();
  await phone.render();
  keepTrying(phone);
  if (phone.store) {
    phone.sendNow();
    await phone.refresh();
    if (readRoute(location.hash).name === 'plots') await phone.render();
  }
  await watchForUpdates({ onWaiting: phone.frame.offerUpdate });
  return null;
}

start().catch((error) => {
  const words = h('p', { role: 'alert' }, `Tallygrove: ${error?.message ?? error}`);
  document.getElementById('app').append(words);
});
