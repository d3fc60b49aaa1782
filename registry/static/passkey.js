/* Passkeys: ask the browser for one, lay its answer into the form, and send the form.
   What is asked stands in the form's data-asked; bytes go to and fro as base64url. */
(() => {
  "use strict";

  const form = document.querySelector("form[data-passkey]");
  if (!form || !window.PublicKeyCredential) return;
  const button = form.querySelector("[data-passkey-ask]");
  const fault = form.querySelector("[data-passkey-fault]");
  const held = form.querySelector("[data-credential]");

  const bytes = (text) =>
    Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (c) => c.charCodeAt(0));
  const text = (buffer) =>
    btoa(String.fromCharCode(...new Uint8Array(buffer)))
      .replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
  const known = (list) => (list || []).map((one) => ({ ...one, id: bytes(one.id) }));

  const asked = () => {
    const key = JSON.parse(form.dataset.asked).publicKey;
    key.challenge = bytes(key.challenge);
    if (key.user) key.user.id = bytes(key.user.id);
    if (key.excludeCredentials) key.excludeCredentials = known(key.excludeCredentials);
    if (key.allowCredentials) key.allowCredentials = known(key.allowCredentials);
    return { publicKey: key };
  };

  const answered = (found) => {
    const response = {};
    for (const name of ["clientDataJSON", "attestationObject", "authenticatorData", "signature", "userHandle"]) {
      if (found.response[name]) response[name] = text(found.response[name]);
    }
    if (found.response.getTransports) response.transports = found.response.getTransports();
    return JSON.stringify({
      id: found.id,
      rawId: text(found.rawId),
      type: found.type,
      response,
      authenticatorAttachment: found.authenticatorAttachment,
      clientExtensionResults: found.getClientExtensionResults(),
    });
  };

  button.hidden = false;
  button.addEventListener("click", async (event) => {
    event.preventDefault();
    fault.hidden = true;
    try {
      held.value = answered(await navigator.credentials[form.dataset.passkey](asked()));
      form.submit();
    } catch {
      fault.hidden = false;
    }
  });
})();
