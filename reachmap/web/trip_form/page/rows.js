// Rows of what was seen on the water: added, taken out, and placed by the phone's own position.

export function dressRows(form) {
  const rows = document.getElementById("rows");
  const blank = document.getElementById("row");
  for (const row of [...rows.children]) if (isEmpty(row)) row.remove();
  for (const row of rows.children) dress(row);
  document.getElementById("add-row").addEventListener("click", () => {
    const row = blank.content.firstElementChild.cloneNode(true);
    rows.append(row);
    dress(row);
    row.querySelector("select").focus();
  });
  return form;
}

function isEmpty(row) {
  return [...row.querySelectorAll("input")].every((input) => !input.value);
}

function dress(row) {
  for (const one of row.querySelectorAll(".here, .drop-row")) one.hidden = false;
  const kind = row.querySelector("select");
  kind.addEventListener("change", () => {
    row.dataset.kind = kind.value;
  });
  row.querySelector(".drop-row").addEventListener("click", () => row.remove());
}

export function readHere(button, input) {
  const words = button.textContent;
  const told = (text) => {
    button.textContent = text;
    window.setTimeout(() => {
      button.textContent = words;
    }, 4000);
  };
  if (!navigator.geolocation) {
    told("No position");
    return;
  }
  button.textContent = "Looking";
  navigator.geolocation.getCurrentPosition(
    ({coords}) => {
      input.value = `${coords.latitude.toFixed(7)}, ${coords.longitude.toFixed(7)}`;
      told(`Within ${Math.round(coords.accuracy)} m`);
    },
    () => told("No position"),
    {enableHighAccuracy: true, timeout: 20000, maximumAge: 0},
  );
}
