/** The shell: its weight, its strictness, and what the service worker keeps and never keeps. */

import assert from 'node:assert/strict';
import { readFileSync, readdirSync } from 'node:fs';
import { test } from 'node:test';
import vm from 'node:vm';
import { gzipSync } from 'node:zlib';

const folder = new URL('../../monitoring/static/phone/', import.meta.url);
const read = (name) => readFileSync(new URL(name, folder), 'utf8');
const modules = readdirSync(folder, { recursive: true }).filter((name) => name.endsWith('.js') && name !== 'worker.js');
const shell = readFileSync(new URL('../../templates/phone/shell.html', import.meta.url), 'utf8');

test('the form weighs at most 100 KiB of script and 40 KiB of the rest, zipped', () => {
  const weigh = (names) => names.reduce((sum, name) => sum + gzipSync(read(name)).length, 0);
  assert.ok(weigh(modules) <= 100 * 1024, `${weigh(modules)} bytes of script`);
  assert.ok(weigh(['phone.css']) + gzipSync(shell).length <= 40 * 1024);
});

test('nothing inline, nothing from elsewhere, no type=number and no placeholder', () => {
  assert.doesNotMatch(shell, /<style|\sstyle=|\son\w+=|<script(?![^>]*\ssrc=)/);
  for (const name of modules.filter((one) => !one.startsWith('vendor/'))) {
    const text = read(name);
    assert.doesNotMatch(text, /innerHTML|outerHTML|insertAdjacentHTML|\.style\b|eval\(|document\.write/, name);
    assert.doesNotMatch(text, /type: 'number'|placeholder:/, name);
    assert.doesNotMatch(text.replace(/https:\/\/[ ,'.]/g, ''), /https?:\/\/\w/, name);
  }
  assert.doesNotMatch(read('phone.css'), /url\(|@import|@font-face/);
});

test('every module a module asks for is there', () => {
  for (const name of modules) {
    for (const [, wanted] of read(name).matchAll(/from '(\.[^']+)'/g)) {
      const path = new URL(wanted, new URL(name, folder)).href.slice(folder.href.length);
      assert.ok(modules.includes(path), `${name} wants ${wanted}`);
    }
  }
});

/** Run the worker against stand-ins for the browser's parts. */
function startWorker({ release = 'r2', shellPaths = ['/field/', '/static/phone/app.js'], kept = {} } = {}) {
  const listeners = {};
  const stores = new Map(Object.entries(kept).map(([name, paths]) => [name, new Map(Object.entries(paths))]));
  const seen = { skipped: 0, fetched: [], added: [] };
  const caches = {
    keys: async () => [...stores.keys()],
    delete: async (name) => stores.delete(name),
    async open(name) {
      if (!stores.has(name)) stores.set(name, new Map());
      return { addAll: async (requests) => seen.added.push(...requests), match: async (path) => stores.get(name).get(path) };
    },
  };
  class Request { constructor(url, options) { Object.assign(this, { url, ...options }); } }
  const self = { location: { origin: 'https://grove.example' }, addEventListener: (name, listener) => { listeners[name] = listener; }, skipWaiting: () => { seen.skipped += 1; }, clients: { claim: async () => {} } };
  vm.runInNewContext(`const RELEASE = ${JSON.stringify(release)};\nconst SHELL = ${JSON.stringify(shellPaths)};\n${read('worker.js')}`, { self, caches, Request, URL, fetch: async (request) => { seen.fetched.push(request.url); return 'from the network'; } });
  const dispatch = async (name, event = {}) => {
    let waits;
    let answer;
    listeners[name]({ ...event, waitUntil: (promise) => { waits = promise; }, respondWith: (promise) => { answer = promise; } });
    await waits;
    return answer;
  };
  const get = (path, more = {}) => dispatch('fetch', { request: { url: `https://grove.example${path}`, method: 'GET', mode: 'cors', ...more } });
  return { dispatch, get, seen, stores };
}

test('the shell is fetched without cookies and past the browser’s own cache', async () => {
  const { dispatch, seen } = startWorker();
  await dispatch('install');
  assert.deepEqual(seen.added.map(({ url, credentials, cache }) => [url, credentials, cache]), [['/field/', 'omit', 'reload'], ['/static/phone/app.js', 'omit', 'reload']]);
  assert.equal(seen.skipped, 0);
});

test('the start page opens from the cache, whatever follows the path', async () => {
  const { get } = startWorker({ kept: { 'tallygrove-phone-r2': { '/field/': 'the kept shell' } } });
  assert.equal(await get('/field/', { mode: 'navigate' }), 'the kept shell');
  assert.equal(await get('/field/?from=home', { mode: 'navigate' }), 'the kept shell');
});

test('no API answer, no page of a person and no form post is touched', async () => {
  const { get, seen } = startWorker();
  for (const path of ['/api/v1/session', '/api/v1/field/pack', '/o/serra-clara/', '/accounts/login/', '/static/phone/other.js']) assert.equal(await get(path), undefined, path);
  assert.equal(await get('/field/', { method: 'POST' }), undefined);
  assert.deepEqual(seen.fetched, []);
});

test('a new release removes the caches of the old ones and nothing else', async () => {
  const { dispatch, stores } = startWorker({ kept: { 'tallygrove-phone-r1': {}, 'tallygrove-phone-r2': {}, 'somebody-else': {} } });
  await dispatch('activate');
  assert.deepEqual([...stores.keys()], ['tallygrove-phone-r2', 'somebody-else']);
});

test('a new release takes over only when told to', async () => {
  const { dispatch, seen } = startWorker();
  await dispatch('message', { data: 'hello' });
  assert.equal(seen.skipped, 0);
  await dispatch('message', { data: 'update' });
  assert.equal(seen.skipped, 1);
});
