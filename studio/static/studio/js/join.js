// A scanned code stands behind the # of the address, which no server is sent: put it in its field, and out of sight.

const code = decodeURIComponent(location.hash.slice(1));
const field = document.querySelector("[name=code]");
if (code && field) {
  field.value = code;
  history.replaceState(null, "", location.pathname);
  field.form.querySelector("button").focus();
}
