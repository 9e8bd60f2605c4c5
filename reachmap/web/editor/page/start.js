// Opening the page.
import { byId } from "./dom.js";
import { begin as beginDraw } from "./draw.js";
import { begin as beginDrop } from "./drop.js";
import { begin as beginDrafted } from "./drafted.js";
import { begin as beginEdit } from "./edit.js";
import { begin as beginFrame } from "./frame.js";
import { hearGround, layGround } from "./ground.js";
import { begin as beginKeys } from "./keys.js";
import { begin as beginBasemap } from "./panel-basemap.js";
import { begin as beginCheck } from "./panel-check.js";
import { begin as beginDrawPanel } from "./panel-draw.js";
import { begin as beginDraftedPanel } from "./panel-drafted.js";
import { begin as beginMark } from "./panel-mark.js";
import { begin as beginRiver } from "./panel-river.js";
import { begin as beginPreview } from "./preview.js";
import { makeMap, showWhole } from "./viewport.js";
import { takeOver } from "./state.js";
import { ask, begin as beginClient } from "./client.js";

async function open() {
  makeMap();
  for (const begin of [beginFrame, beginDrawPanel, beginMark, beginDraftedPanel, beginRiver, beginBasemap, beginCheck, beginDraw, beginEdit, beginKeys, beginDrop, beginPreview]) begin();
  hearGround();
  let told;
  try {
    told = await ask("drawing");
  } catch (error) {
    byId("kept").textContent = error.said;
    return;
  }
  takeOver(told);
  await beginDrafted();
  layGround();
  document.documentElement.dataset.sheet = told.draft ? "closed" : "open";
  for (let frame = 0; frame < 2; frame += 1) await new Promise(requestAnimationFrame); // the ledger gets its height
  showWhole();
  beginClient();
  document.documentElement.dataset.ready = "yes";
}

open();
