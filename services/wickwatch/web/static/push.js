// "Reach me on this device": asks the browser for a subscription and hands it to the form, which goes out as any other.
"use strict";

(() => {
  const form = document.getElementById("device");
  if (!form || !("serviceWorker" in navigator) || !("PushManager" in window) || !("Notification" in window)) return;
  const said = document.getElementById("device-said");
  form.hidden = false;
  document.getElementById("device-without").hidden = true;

  function octets(text) {
    const plain = atob(text.replace(/-/g, "+").replace(/_/g, "/"));
    return Uint8Array.from(plain, (letter) => letter.charCodeAt(0));
  }

  async function subscribed() {
    const registration = await navigator.serviceWorker.register("/worker.js");
    await navigator.serviceWorker.ready;
    const wanted = { userVisibleOnly: true, applicationServerKey: octets(form.dataset.key) };
    try {
      return await registration.pushManager.subscribe(wanted);
    } catch (error) {
      // A subscription to another key stands in the way: one of an earlier installation.
      const former = await registration.pushManager.getSubscription();
      if (!former) throw error;
      await former.unsubscribe();
      return registration.pushManager.subscribe(wanted);
    }
  }

  navigator.serviceWorker.getRegistration().then((there) => there && there.active && there.active.postMessage({}));

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    said.textContent = "";
    try {
      if ((await Notification.requestPermission()) !== "granted") {
        said.textContent = form.dataset.refused;
        return;
      }
      const made = (await subscribed()).toJSON();
      form.elements.address.value = made.endpoint;
      form.elements.key.value = made.keys.p256dh;
      form.elements.auth.value = made.keys.auth;
      const { active } = await navigator.serviceWorker.ready;
      active.postMessage({ remember: { address: made.endpoint, auth: made.keys.auth, house: form.dataset.key } });
      form.submit();
    } catch (error) {
      said.textContent = form.dataset.failed.replace("{why}", error.message);
    }
  });
})();
