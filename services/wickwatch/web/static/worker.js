// Shows a message that a push service brought, and opens its link when it is pressed. One notification for each alarm:
// a later message replaces an earlier one, and a message that came twice makes no second sound.
"use strict";

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
