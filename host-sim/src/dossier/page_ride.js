// Opens a ride within the page, once it is asked for. Until then its text lies still: nothing of it runs.
function prepare(section) {
  const part = (name) => document.getElementById(`${section.id}-${name}`);
  const [button, room, kept] = [part("open"), part("room"), part("page")];

  function close() {
    room.replaceChildren();
    room.hidden = true;
    button.textContent = button.dataset.open;
    button.setAttribute("aria-expanded", "false");
  }

  function open() {
    const frame = document.createElement("iframe");
    frame.title = "The ride, played";
    frame.allow = "fullscreen";
    // Its keys work at once; back to the button with Shift and Tab.
    frame.addEventListener("load", () => frame.contentWindow.focus(), { once: true });
    frame.srcdoc = JSON.parse(kept.textContent);
    room.hidden = false;
    room.append(frame);
    button.textContent = button.dataset.close;
    button.setAttribute("aria-expanded", "true");
    button.scrollIntoView();
  }

  button.addEventListener("click", () => (room.hidden ? open() : close()));
  part("ask").hidden = false;
}

document.querySelectorAll("section.watch").forEach(prepare);
