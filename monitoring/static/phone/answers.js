/** What an answer of the server means for the items that were sent. Only JSON that names ids can acknowledge. */

const seconds = (response) => {
  const header = response.headers.get('retry-after');
  return /^\d+$/.test(header ?? '') ? Number(header) : null;
};

/** The JSON of an answer, or null when it is anything else (such as a Wi-Fi sign-in page). */
export async function readJson(response) {
  if (!/\bjson\b/.test(response.headers.get('content-type') ?? '')) return null;
  try {
    return await response.json();
  } catch {
    return null;
  }
}

/** Classify the answer to a batch of items. */
export async function classify(response) {
  const json = await readJson(response);
  const { status } = response;
  if (status === 413) return { kind: 'spoilt', problem: json };
  if (json === null) return { kind: 'wait', reason: status >= 500 ? 'busy' : 'portal', after_s: seconds(response) };
  if (status === 200) return Array.isArray(json.outcomes) ? { kind: 'outcomes', outcomes: json.outcomes } : { kind: 'wait', reason: 'portal', after_s: null };
  if (status === 401 || status === 403) return { kind: 'no_pass', problem: json };
  if (status === 400 || status === 422) return { kind: 'spoilt', problem: json };
  return { kind: 'wait', reason: 'busy', after_s: seconds(response) };
}

/** Classify the answer to one picture: kept, unnamed (its record has to come first), refused for good, or as for items. */
export async function classifyPicture(response) {
  const json = await readJson(response);
  const { status } = response;
  if (status === 200 && ['stored', 'already'].includes(json?.outcome)) return { kind: 'kept' };
  if (status === 400 && json?.code === 'picture_unnamed') return { kind: 'unnamed' };
  if (json !== null && [400, 413, 415].includes(status) && json.code !== 'digest_differs') return { kind: 'refused', problem: json };
  if (status === 401 || status === 403) return json === null ? { kind: 'wait', reason: 'portal', after_s: null } : { kind: 'no_pass', problem: json };
  return { kind: 'wait', reason: status >= 500 || json !== null ? 'busy' : 'portal', after_s: seconds(response) };
}
