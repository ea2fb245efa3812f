// Asks the browser for a passkey, and sends its answer with the form that asks for it.

const bytes = (text) =>
  Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (c) => c.charCodeAt(0));

const text = (buffer) =>
  btoa(String.fromCharCode(...new Uint8Array(buffer)))
    .replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");

// Options come as JSON; what is bytes in them is written in base64url (RFC 4648, 5).
function asked(form) {
  const options = JSON.parse(form.dataset.options).publicKey;
  options.challenge = bytes(options.challenge);
  if (options.user) options.user.id = bytes(options.user.id);
  for (const key of [...(options.excludeCredentials ?? []), ...(options.allowCredentials ?? [])]) {
    key.id = bytes(key.id);
  }
  return { publicKey: options };
}

function answer(key) {
  const response = { clientDataJSON: text(key.response.clientDataJSON) };
  for (const name of ["attestationObject", "authenticatorData", "signature", "userHandle"]) {
    if (key.response[name]) response[name] = text(key.response[name]);
  }
  return JSON.stringify({
    id: key.id, rawId: text(key.rawId), type: key.type, response, extensions: {},
  });
}

for (const form of document.querySelectorAll("form[data-passkey]")) {
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const button = form.querySelector("button");
    const failed = form.querySelector("[role=alert]");
    button.disabled = true;
    failed.hidden = true;
    try {
      const key = await navigator.credentials[form.dataset.passkey](asked(form));
      form.elements.answer.value = answer(key);
      form.submit();
    } catch {
      failed.hidden = false;
      button.disabled = false;
    }
  });
}
