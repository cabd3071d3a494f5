// On a screen details are closed until they are asked for; on paper, and without this script, they are open.
const details = [...document.querySelectorAll("details")];
let opened = [];
details.forEach((one) => { one.open = false; });
window.addEventListener("beforeprint", () => {
  opened = details.filter((one) => !one.open);
  opened.forEach((one) => { one.open = true; });
});
window.addEventListener("afterprint", () => {
  opened.forEach((one) => { one.open = false; });
  opened = [];
});
