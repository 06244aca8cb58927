/** What every screen may ask of the phone: the words, the kept pack, saving, sending, moving on. */

import { localDay } from './dates.js';
import { createDraftKeeper } from './draft_keeper.js';
import { offerFile, unsentText } from './export_file.js';
import { UNSENT } from './item_states.js';
import { alone } from './locks.js';
import { LANGUAGES, translator } from './messages.js';
import { createOutbox } from './outbox.js';
import { findPlot, findWork, keptPack, refreshPack, speciesName } from './pack.js';
import { createPictureSender, keepPicture, redrawn } from './pictures.js';
import { routes } from './routes.js';
import { forgetOldItems, saveVisit, saveWork } from './saving.js';
import { createSender } from './sender.js';
import { openPassStore } from './store.js';
import { PARTS_OF_PACK, mended, picturesOf, workKey } from './work_draft.js';
import { errorWords } from './words.js';

/** The language asked for, or the browser's first one that we speak. */
export function pickLanguage(kept, browser) {
  const spoken = [kept, ...browser].map((tag) => String(tag ?? '').slice(0, 2).toLowerCase());
  return spoken.find((language) => language in LANGUAGES) ?? 'en';
}

export class Phone {
  constructor({ service, phoneStore, release, code }) {
    Object.assign(this, { service, phoneStore, release, code });
    Object.assign(this, { store: null, pack: null, safety: { kept: false }, passLost: false, lastResult: null, onSent: () => {} });
    this.today = () => localDay();
    this.bell = globalThis.BroadcastChannel ? new BroadcastChannel('tallygrove-field') : null;
    if (this.bell) this.bell.onmessage = () => this.heard();
    this.started = { wall: Date.now(), steady: performance.now() };
  }

  setLanguage(language) {
    this.language = language;
    this.t = translator(language);
    document.documentElement.lang = language;
  }

  async chooseLanguage(language) {
    await this.phoneStore.keep('language', language);
    this.setLanguage(language);
    await this.render();
  }

  speciesName(slug) {
    return speciesName(this.pack, slug, this.language);
  }

  find(round, plot) {
    return this.pack && findPlot(this.pack, round, plot);
  }

  go(address) {
    if (location.hash === address) return this.render();
    location.hash = address;
    return null;
  }

  countIsOpen() {
    return /^#\/(count|review|check|walk|care)\//.test(location.hash);
  }

  /** Open the database of a pass and everything that hangs on it. */
  async openPass(pass) {
    this.store?.close();
    this.pass = pass;
    this.store = await openPassStore(pass.uid, { onStale: () => this.frame.notice('stale', this.t('stale_page')) });
    const parts = { store: this.store, service: this.service, progress: () => this.tell() };
    const outbox = createOutbox({ ...parts, alone: alone(`tallygrove-send-${pass.uid}`) });
    const pictures = createPictureSender(parts);
    const byTurns = alone(`tallygrove-pictures-${pass.uid}`);
    /** Records first, then the pictures they name. */
    const sendDue = async (options) => {
      const result = await outbox.sendDue(options);
      return result?.kind === 'done' ? (await byTurns(() => pictures.sendDue(options))) ?? result : result;
    };
    const waiting = async () => (await this.store.countPictures()) > 0 || Object.values(await this.store.countUnsent(['queued', 'sending'])).some((number) => number > 0);
    this.sender = createSender({ outbox: { sendDue }, waiting, ours: () => this.standing(), report: (result) => this.reported(result) });
    this.keeper = createDraftKeeper(this.store, () => this.frame.notice('disk', this.t('draft_trouble')));
    this.pack = (await keptPack(this.store))?.pack ?? null;
    await forgetOldItems(this.store);
  }

  /** Whether the server still knows this phone under the pass whose counts these are. */
  async standing() {
    try {
      const session = await this.service.session();
      await this.store.note('clock', { offset_ms: session.clock_offset_ms, at: Date.now() });
      return session.pass?.uid === this.store.passUid ? { kind: 'ours' } : { kind: 'no_pass', problem: null };
    } catch (error) {
      return { kind: 'wait', reason: error.reason ?? 'offline', after_s: null };
    }
  }

  /** Another tab saved or sent something: tell the same truth here. */
  async heard() {
    if (!this.store) return;
    await this.tell();
    await this.onSent();
  }

  async reported(result) {
    if (result === null) return; // another tab is sending, and will ring
    this.lastResult = result;
    if (result.kind === 'no_pass') this.passLost = true;
    this.frame.notice('pass', ...(this.passLost ? [this.t('pass_lost_short')] : []));
    await this.tell();
    await this.onSent();
    this.bell?.postMessage('changed');
  }

  /** The outcome of the last attempt, in words that never claim more than happened. */
  lastResultWords() {
    const { t, lastResult } = this;
    if (this.passLost) return t('trouble_no_pass');
    if (!lastResult || lastResult.kind === 'done') return '';
    return t(`trouble_${lastResult.reason ?? 'unknown'}`, { detail: '' });
  }

  async counts() {
    const counts = await this.store.countUnsent(UNSENT);
    return { unsent: counts.queued + counts.sending, needsHelp: counts.needs_help, lastSent: await this.store.noted('last_sent'), pictures: await this.store.countPictures() };
  }

  async tell() {
    this.frame.tell(this.store ? await this.counts() : null);
  }

  sendNow() {
    return this.sender.poke({ hurried: true });
  }

  keepDraft(draft) {
    this.keeper.keep(draft);
  }

  draftKept() {
    return this.keeper.finished();
  }

  async dropDraft(key) {
    await this.draftKept();
    const draft = await this.store.draft(key);
    for (const sha256 of draft && !draft.replaces ? picturesOf(draft) : []) await this.store.dropPicture(sha256);
    await this.store.dropDraft(key);
  }

  /** What a record of field work is about, as the pack names it, or null when it left the list. */
  about(kind, subject) {
    return findWork(this.pack, PARTS_OF_PACK[kind], subject);
  }

  /** The same, or as it stood when an open draft of it was begun. */
  async begunAbout(kind, subject) {
    return this.about(kind, subject) ?? (await this.store.draft(workKey(kind, subject)))?.about ?? null;
  }

  /** Keep a picture for a draft, drawn anew, and return its digest. */
  async takePicture(draft, file) {
    const sha256 = await keepPicture(this.store, await redrawn(file), draft.item_id);
    await this.tell();
    return sha256;
  }

  /** Open a refused record again; its text stays until the new one is saved. */
  async mend(item) {
    await this.store.keepDraft(mended(item));
    return this.go(routes[{ handover: 'check', walk: 'walk', care: 'care' }[item.kind]](item.subject));
  }

  async signature() {
    return {
      store: this.store, author: this.pack.person, device: (await this.phoneStore.kept('device')) ?? '', clock: await this.store.noted('clock'),
      elapsed: { wall: Date.now() - this.started.wall, steady: performance.now() - this.started.steady },
    };
  }

  save(draft) {
    return this.saveAs(routes.saved, async () => saveVisit({ draft, plot: this.find(draft.round, draft.plot).plot, ...await this.signature() }));
  }

  saveWork(draft) {
    return this.saveAs(routes.recorded, async () => saveWork({ draft, ...await this.signature() }));
  }

  /** Save a draft for good, say so only once the disk has it, then try to send. */
  async saveAs(route, saving) {
    await this.draftKept();
    try {
      const item = await saving();
      this.frame.notice('disk');
      await this.tell();
      this.go(route(item.id));
      this.sender.poke();
    } catch (error) {
      this.frame.notice('disk', this.t('save_failed', { detail: error?.message ?? '' }));
      window.scrollTo(0, 0);
    }
  }

  async saveFile() {
    const text = unsentText(await this.store.items(), await this.store.drafts(), { passUid: this.pass.uid, label: this.pass.label, savedAt: new Date().toISOString() });
    offerFile(`tallygrove-unsent-${localDay()}.json`, text);
  }

  /** Ask for the newest pack; without an answer the kept one stays. */
  async refresh() {
    try {
      const standing = await this.standing();
      if (standing.kind === 'no_pass') return this.reported(standing);
      if (standing.kind === 'ours') this.pack = await refreshPack({ service: this.service, store: this.store });
      if (standing.kind === 'ours') this.passLost = false;
      if (!this.pack) this.frame.notice('pack', this.t('pack_missing'));
      else this.frame.notice('pack');
    } catch (error) {
      this.frame.notice('pack', errorWords(this.t, error));
    }
    return null;
  }

  async enrol(code, device) {
    const session = await this.service.enrol(code, device);
    this.code = '';
    await this.phoneStore.keep('device', device);
    await this.phoneStore.keep('pass', { ...session.pass, organisation: session.organisation });
    await this.openPass(session.pass);
    this.passLost = false;
    this.frame.notice('pass');
    await this.refresh();
    await this.tell();
    this.go(routes.plots());
    this.sendNow();
  }

  async leave() {
    await this.service.leave();
    await this.phoneStore.keep('pass', null);
    this.store.close();
    Object.assign(this, { store: null, pack: null, pass: null, passLost: false });
    await this.tell();
    this.go(routes.enrol());
  }
}
