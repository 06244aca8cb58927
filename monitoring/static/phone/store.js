/** The on-phone database: one per field pass, opened and upgraded step by step. */

import { openDB } from './vendor/idb.js';

const VERSION = 2;
const LOST = ['InvalidStateError', 'UnknownError'];

/** Upgrade steps, one per version; a released step never changes. */
function upgrade(database, from) {
  if (from < 1) {
    const items = database.createObjectStore('items', { keyPath: 'id' });
    items.createIndex('by_state', ['state', 'due_at']);
    database.createObjectStore('drafts', { keyPath: 'key' });
    database.createObjectStore('kept');
  }
  if (from < 2) database.createObjectStore('pictures', { keyPath: 'sha256' }).createIndex('by_item', 'item');
}

/** Open the database of one pass. `onStale` is told when a newer page asks this one to let go. */
export async function openPassStore(passUid, { onStale = () => {}, onBlocked = () => {} } = {}) {
  const open = () => openDB(`tallygrove-field-${passUid}`, VERSION, {
    upgrade, blocked: onBlocked, blocking: () => { database.close(); onStale(); },
  });
  let database = await open();

  /** Some phones drop the connection in the background: reopen once, then let the error out. */
  async function withDatabase(work) {
    try {
      return await work(database);
    } catch (error) {
      if (!LOST.includes(error?.name)) throw error;
      database = await open();
      return work(database);
    }
  }

  /** Run work in one transaction that is on the disk, not only in memory, once this returns. */
  const strictly = (names, work) => withDatabase(async (opened) => {
    const transaction = opened.transaction(names, 'readwrite', { durability: 'strict' });
    try {
      const [result] = await Promise.all([work((name) => transaction.objectStore(name)), transaction.done]);
      return result;
    } catch (error) {
      try { transaction.abort(); } catch { /* it is over already */ }
      throw transaction.error ?? error;
    }
  });

  async function selected(items, { ids, state, dueBefore = Infinity, limit = Infinity }) {
    if (ids) return (await Promise.all(ids.map((id) => items.get(id)))).filter(Boolean);
    const range = IDBKeyRange.bound([state, -Infinity], [state, dueBefore]);
    return items.index('by_state').getAll(range, limit === Infinity ? undefined : limit);
  }

  return {
    passUid,

    /** Change items in one transaction: `change` gets the selected items and returns those to write. */
    changeItems: (select, change) => strictly(['items'], async (store) => {
      const items = store('items');
      const changed = change(await selected(items, select));
      await Promise.all(changed.map((item) => items.put(item)));
      return changed;
    }),

    /** Put a sealed item into the outbox, end its draft and mark what it replaces: all or nothing. */
    saveItem: (item, { draftKey, replacedItem = null }) => strictly(['items', 'drafts'], async (store) => {
      const writes = [store('items').add(item), store('drafts').delete(draftKey)];
      if (replacedItem) writes.push(store('items').put(replacedItem));
      await Promise.all(writes);
    }),

    items: () => withDatabase((opened) => opened.getAll('items')),
    item: (id) => withDatabase((opened) => opened.get('items', id)),
    countUnsent: async (states) => {
      const counts = await Promise.all(states.map((state) => withDatabase((opened) => opened.countFromIndex('items', 'by_state', IDBKeyRange.bound([state, -Infinity], [state, Infinity])))));
      return Object.fromEntries(states.map((state, index) => [state, counts[index]]));
    },
    removeItems: (ids) => strictly(['items'], (store) => Promise.all(ids.map((id) => store('items').delete(id)))),

    /** Pictures by their digest: bytes as an ArrayBuffer, and the item that names them. */
    keepPicture: (picture) => strictly(['pictures'], (store) => store('pictures').put(picture)),
    picture: (sha256) => withDatabase((opened) => opened.get('pictures', sha256)),
    pictureNames: () => withDatabase((opened) => opened.getAllKeys('pictures')),
    countPictures: (item) => withDatabase((opened) => (item ? opened.countFromIndex('pictures', 'by_item', item) : opened.count('pictures'))),
    dropPicture: (sha256) => strictly(['pictures'], (store) => store('pictures').delete(sha256)),

    draft: (key) => withDatabase((opened) => opened.get('drafts', key)),
    drafts: () => withDatabase((opened) => opened.getAll('drafts')),
    keepDraft: (draft) => withDatabase((opened) => opened.put('drafts', draft)),
    dropDraft: (key) => withDatabase((opened) => opened.delete('drafts', key)),

    note: (name, value) => withDatabase((opened) => opened.put('kept', value, name)),
    noted: (name) => withDatabase((opened) => opened.get('kept', name)),
    close: () => database.close(),
  };
}

/** The small database beside them: which pass is in use, the language, the name of this phone. */
export async function openPhoneStore() {
  const database = await openDB('tallygrove-field', 1, { upgrade: (opened) => opened.createObjectStore('kept') });
  return {
    keep: (name, value) => database.put('kept', value, name),
    kept: (name) => database.get('kept', name),
  };
}
