// Shows a message that a push service brought, and opens its link when it is pressed. One notification for each alarm:
// a later message replaces an earlier one, and a message that came twice makes no second sound. A subscription that the
// browser changed is told to the house by what only this device knows of the former one: nobody need be signed in.
"use strict";

// The subscription that the house knows: its address and secret, and the house's key that it was made for.
const KEPT = "/devices/renewed";

async function remember(device) {
  const store = await caches.open("device");
  await store.put(KEPT, new Response(JSON.stringify(device)));
}

async function remembered() {
  const store = await caches.open("device");
  const found = await store.match(KEPT);
  return found ? found.json() : null;
}

function secretOf(subscription) {
  const made = subscription.toJSON();
  return { address: made.endpoint, auth: made.keys.auth };
}

async function renew(former, made) {
  const keys = made.toJSON().keys;
  const answer = await fetch("/devices/renewed", {
    method: "POST",
    credentials: "omit",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify({ former: former.address, secret: former.auth, address: made.endpoint, ...keys }),
  });
  // Where that failed, it is tried again when the page of the device's person is opened.
  if (answer.ok) await remember({ ...secretOf(made), house: former.house });
}

async function changed(old, made) {
  const former = (await remembered()) || (old && secretOf(old));
  if (!former) return;
  const key = old ? old.options.applicationServerKey : former.house;
  const wanted = { userVisibleOnly: true, applicationServerKey: key };
  await renew(former, made || (await self.registration.pushManager.subscribe(wanted)));
}

async function look() {
  const [there, former] = await Promise.all([self.registration.pushManager.getSubscription(), remembered()]);
  if (there && former && there.endpoint !== former.address) await renew(former, there);
}

// One change at a time, in the order in which they came: the next begins with what the one before it has remembered.
let latest = Promise.resolve();

function inTurn(event, work) {
  const done = latest.then(work);
  latest = done.catch(() => {});
  event.waitUntil(done);
}

self.addEventListener("pushsubscriptionchange", (event) => {
  inTurn(event, () => changed(event.oldSubscription, event.newSubscription));
});

self.addEventListener("message", (event) => {
  inTurn(event, () => (event.data.remember ? remember(event.data.remember) : look()));
});

self.addEventListener("push", (event) => {
  if (!event.data) return;
  const told = event.data.json();
  event.waitUntil(
    (async () => {
      const there = await self.registration.getNotifications({ tag: told.tag });
      const twice = there.some((one) => one.data && one.data.key === told.key);
      await self.registration.showNotification(told.title, {
        body: told.body,
        tag: told.tag,
        renotify: !twice,
        requireInteraction: true,
        data: { url: told.url, key: told.key },
      });
    })(),
  );
});

self.addEventListener("notificationclick", (event) => {
  event.notification.close();
  const wanted = new URL(event.notification.data.url || "/", self.location.origin);
  const here = wanted.origin === self.location.origin ? wanted.href : self.location.origin;
  event.waitUntil(self.clients.openWindow(here));
});
