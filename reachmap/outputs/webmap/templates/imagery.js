// The angler's own picture from the air, under the water: on or off, and how clear.

function startImagery() {
  const layer = window.image_overlay_own_imagery;
  const box = byId("imagery-on");
  const range = byId("imagery-seen");
  if (!layer || !box) return;
  const show = () => {
    layer.setOpacity(box.checked ? Number(range.value) / 100 : 0);
    range.disabled = !box.checked;
    range.setAttribute("aria-valuetext", tr("clear", { share: range.value }));
  };
  box.addEventListener("change", show);
  range.addEventListener("input", show);
  show();
}
