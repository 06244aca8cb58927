/** Open the form with a code, typed or from a QR link. */

import { h, button, heading } from '../dom.js';
import { textField } from '../fields.js';
import { tidyCode } from '../routes.js';
import { errorWords } from '../words.js';

export async function enrolScreen(phone) {
  const { t } = phone;
  const form = { code: phone.code, device: (await phone.phoneStore.kept('device')) ?? '' };
  const trouble = h('div', { role: 'alert' });
  const open = async () => {
    trouble.replaceChildren();
    if (!form.code.trim()) {
      trouble.append(h('p', { class: 'error' }, t('error_code_empty')));
      return document.getElementById('code').focus();
    }
    try {
      await phone.enrol(tidyCode(form.code), form.device.trim());
    } catch (error) {
      trouble.append(h('p', { class: 'error' }, errorWords(t, error)));
    }
  };
  return [
    heading(t('enrol_title')),
    phone.passLost && h('p', { class: 'notice' }, t('pass_lost')),
    h('p', {}, t(phone.code ? 'enrol_from_link' : 'enrol_lead')),
    trouble,
    textField({ id: 'code', label: t('code'), value: form.code, hint: t('code_hint'), autocapitalize: 'characters', spellcheck: 'false', class: 'code', onchange: (value) => { form.code = value; } }),
    textField({ id: 'device', label: t('device'), value: form.device, hint: t('device_hint'), onchange: (value) => { form.device = value; } }),
    button(t('enrol_open'), open, { class: 'primary' }),
    phone.store && h('p', {}, h('a', { class: 'quiet', href: '#/' }, t('back_to_plots'))),
  ];
}
