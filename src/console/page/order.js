'use strict';
// For whom a shaft is balanced, and by whom: asked when it is opened, completed or put right on its job's page.

const orderKeys = ['customer', 'number', 'part', 'serial', 'shop', 'balanced_by', 'inspected_by', 'fixed_by', 'limits_by'];

function orderBox(order, more) {
  const form = element('form', null, { id: 'order', autocomplete: 'off' });
  const box = element('details');
  box.append(element('summary', say('order')), element('p', more, { className: 'quiet' }),
    ...orderKeys.map((key) => field(say('of_order_' + key), key, order[key] || '')));
  form.append(box);
  return form;
}

// Of a shaft that is yet to be opened.
function orderForm() {
  const form = orderBox({}, say('order_more'));
  form.addEventListener('submit', (event) => event.preventDefault());
  remembered(form, 'order');
  form.firstChild.open = orderKeys.some((key) => form.elements[key].value !== '');
  return form;
}

// Of a job, also a closed one: what is changed becomes an entry of its own.
function orderOfJob(job) {
  const form = orderBox(job.order, say('order_later'));
  form.firstChild.append(element('button', say('order_keep')));
  form.addEventListener('submit', async (event) => {
    event.preventDefault();
    const changed = orderKeys.map((key) => [key, form.elements[key].value.trim()]).filter(([key, value]) => value !== (job.order[key] || ''));
    const kept = await act('/api/order', { job: job.job, entries: job.count, order: Object.fromEntries(changed) });
    if (kept) view('job', job.job);
  });
  return form;
}
