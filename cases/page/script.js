// Input stays in the tab through a reload and a restart of the server.
window.neckKeep = (name, text) => {
  try { sessionStorage.setItem("neckpreload." + name, text) } catch (e) {}
};
window.neckKept = (name) => {
  try { return sessionStorage.getItem("neckpreload." + name) } catch (e) { return null }
};
// Focus an element as soon as it is shown; of a field, select the text.
window.neckFocus = (id, left = 40) => {
  const one = document.getElementById(id);
  if (one && one.offsetParent && !one.disabled) {
    one.focus();
    if (one.select) one.select();
  }
  if (document.activeElement !== one && left) requestAnimationFrame(() => neckFocus(id, left - 1));
};
// Go to the next field of a step; true in its last one.
window.neckEnter = event => {
  event.preventDefault();
  if (event.repeat) return false;
  const inputs = event.target.closest("[data-step]").querySelectorAll("input");
  const fields = [...inputs].filter(one => one.offsetParent);
  const next = fields[fields.indexOf(event.target) + 1];
  if (next) { next.focus(); next.select(); }
  return !next;
};
// Print the label alone.
window.neckPrintLabel = () => {
  const label = document.querySelector(".label").cloneNode(true);
  document.body.append(label);
  document.body.classList.add("label-only");
  window.print();
  document.body.classList.remove("label-only");
  label.remove();
};
// What a scanner types while no field has the focus goes into the serial.
document.addEventListener("keydown", event => {
  const serial = document.querySelector("input[data-scan]");
  const modified = event.ctrlKey || event.altKey || event.metaKey;
  if (!serial || modified || event.key.length !== 1 || event.key === " ") return;
  if (event.target.closest("input, textarea, [role=listbox], [role=combobox]")) return;
  serial.focus();
  serial.select();
});
