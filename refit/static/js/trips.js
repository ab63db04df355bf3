// The trip sheet on the road: keeps the page on the phone, and ticks in a queue until they are sent.
// Without scripts the forms of the page do the same, as long as there is a network.
'use strict';
(() => {
  const bar = document.getElementById('waiting');
  if (!bar || !window.indexedDB || !window.fetch) return;
  const STORE = 'ticks';

  const opened = new Promise((resolve, reject) => {
    const asked = indexedDB.open('refit-trips', 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore(STORE, { keyPath: 'id', autoIncrement: true });
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
  const inStore = async (mode, act) => {
    const database = await opened;
    return new Promise((resolve, reject) => {
      const done = database.transaction(STORE, mode);
      const asked = act(done.objectStore(STORE));
      done.oncomplete = () => resolve(asked.result);
      done.onerror = done.onabort = () => reject(done.error);
    });
  };
  const waiting = () => inStore('readonly', store => store.getAll());

  const tell = (stop, words) => {
    const form = document.querySelector(`form.tick-form[action="${stop}"]`);
    if (!form) return;
    form.querySelector('.told').textContent = words;
    form.querySelector('button').disabled = words !== '' && !words.startsWith('!');
  };
  const show = async () => {
    const ticks = await waiting();
    bar.hidden = !ticks.length;
    bar.textContent = ticks.length
      ? `${ticks.length} tick${ticks.length > 1 ? 's wait' : ' waits'} on this phone and will be sent when there is a network.`
      : '';
    ticks.forEach(tick => tell(tick.url, tick.wrong || 'Noted on this phone.'));
    return ticks.length;
  };

  let sending = false;
  const send = async () => {
    if (sending) return;
    sending = true;
    let sent = 0;
    try {
      for (const tick of await waiting()) {
        const body = new FormData();
        tick.fields.forEach(([name, value]) => body.append(name, value));
        let answer;
        try {
          answer = await fetch(tick.url, { method: 'POST', body, headers: { Accept: 'application/json' } });
        } catch { break; }
        const said = (answer.headers.get('Content-Type') || '').startsWith('application/json');
        if (answer.ok && said) {
          await inStore('readwrite', store => store.delete(tick.id));
          sent += 1;
        } else if (answer.status === 422 && said) {
          const errors = Object.values((await answer.json()).errors).flat();
          await inStore('readwrite', store => store.delete(tick.id));
          tell(tick.url, `! ${errors.join(' ')}`);
        } else {
          bar.hidden = false;
          bar.textContent = 'Ticks wait on this phone, but the server does not take them. Sign in again, then open this page.';
          return;
        }
      }
    } finally { sending = false; }
    const left = await show();
    if (sent && !left) location.reload();
  };

  document.querySelectorAll('form.tick-form').forEach(form => form.addEventListener('submit', async event => {
    event.preventDefault();
    form.elements.at.value = Date.now();
    const fields = [...new FormData(form)].filter(([, value]) => !(value instanceof File) || value.size);
    const url = form.getAttribute('action');
    if ((await waiting()).some(tick => tick.url === url)) return;
    await inStore('readwrite', store => store.add({ url, fields }));
    await show();
    await send();
  }));

  window.addEventListener('online', send);
  setInterval(send, 15000);
  show().then(left => left && send());

  if ('serviceWorker' in navigator) {
    navigator.serviceWorker.register(bar.dataset.worker, { scope: bar.dataset.scope });
    navigator.serviceWorker.ready.then(async () => {
      const kept = await caches.open('refit-trips');
      const parts = [...document.querySelectorAll('link[rel=stylesheet], link[rel=icon], script[src]')];
      await kept.addAll([location.href.split('#')[0], ...parts.map(part => part.href || part.src)]);
      document.documentElement.dataset.kept = 'yes';
    });
  }
})();
