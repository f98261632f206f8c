/** Begin an empty sheet. */

import type { VNode } from "preact";
import { useState } from "preact/hooks";
import { Dialog } from "../parts";
import { store } from "../store";
import { emptyLayout } from "./edit";
import { keepPicture } from "./picture";

export function NewDialog({ onClose }: { onClose: () => void }): VNode {
  const [name, setName] = useState("");
  const [units, setUnits] = useState<"imperial" | "metric">(store.state.layout?.units === "metric" ? "metric" : "imperial");
  return (
    <Dialog title="New sheet" onClose={onClose}>
      <form
        class="form"
        onSubmit={(event) => {
          event.preventDefault();
          const called = name.trim() || "New site";
          void keepPicture(null);
          store.begin(emptyLayout(called, units), `${called.toLowerCase().replaceAll(/[^a-z0-9]+/g, "-").replaceAll(/^-|-$/g, "") || "site"}.json`);
          onClose();
        }}
      >
        <label class="field">
          <span>What the site is called</span>
          <input type="text" value={name} autocomplete="off" onInput={(event) => setName(event.currentTarget.value)} />
        </label>
        <label class="field">
          <span>Measured in</span>
          <select value={units} onChange={(event) => setUnits(event.currentTarget.value === "metric" ? "metric" : "imperial")}>
            <option value="imperial">feet and inches</option>
            <option value="metric">metres</option>
          </select>
        </label>
        <p class="note">It is kept in this browser only, until you download it.{store.state.layout ? " What is open now comes back with Undo." : ""}</p>
        <button type="submit" class="main">
          Begin
        </button>
      </form>
    </Dialog>
  );
}
