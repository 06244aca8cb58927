/** Sign off. Unsent counts stay on the phone; nothing is thrown away. */

import { h, button, heading } from '../dom.js';
import { UNSENT } from '../item_states.js';
import { routes } from '../routes.js';
import { errorWords } from '../words.js';

export async function leaveScreen(phone) {
  const { t } = phone;
  const counts = await phone.store.countUnsent(UNSENT);
  const unsent = Object.values(counts).reduce((sum, number) => sum + number, 0);
  const drafts = (await phone.store.drafts()).length;
  const trouble = h('p', { class: 'error', role: 'alert', hidden: true });
  const leave = async () => {
    try {
      await phone.leave();
    } catch (error) {
      trouble.hidden = false;
      trouble.textContent = `${t('leave_failed')} ${errorWords(t, error)}`;
    }
  };
  return [
    h('p', {}, h('a', { class: 'quiet', href: routes.outbox() }, t('back'))),
    heading(t('leave_title')),
    h('p', {}, t('leave_lead')),
    unsent > 0 && h('p', { class: 'notice' }, t('leave_unsent', { count: unsent })),
    drafts > 0 && h('p', { class: 'notice' }, t('leave_drafts', { count: drafts })),
    trouble,
    h('div', { class: 'stack' },
      unsent > 0 && h('a', { class: 'primary', href: routes.outbox() }, t('send_first')),
      unsent > 0 && button(t('save_file'), () => phone.saveFile(), { class: 'quiet' }),
      button(t(unsent > 0 ? 'leave_anyway' : 'leave_now'), leave, { class: unsent > 0 ? 'quiet' : 'primary' })),
  ];
}
