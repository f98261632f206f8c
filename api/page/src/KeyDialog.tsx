/** Ask for the API key. */

import type { VNode } from "preact";
import { useState } from "preact/hooks";
import type { KeyWanted } from "./key";
import { Dialog } from "./parts";

export function KeyDialog({ wanted }: { wanted: KeyWanted }): VNode {
  const [key, setKey] = useState("");
  return (
    <Dialog title="This service asks for a key" onClose={() => wanted.give("")}>
      <form
        onSubmit={(event) => {
          event.preventDefault();
          if (key.trim()) wanted.give(key.trim());
        }}
      >
        <p>Who runs this service makes keys. Yours is kept in this browser tab and goes when you close it.</p>
        {wanted.refused && <p class="note bad" role="alert">The key is unknown, revoked or out of date.</p>}
        <label class="field">
          <span>API key</span>
          <input type="password" value={key} autocomplete="off" spellcheck={false} onInput={(event) => setKey(event.currentTarget.value)} />
        </label>
        <button type="submit" class="main">
          Use this key
        </button>
      </form>
    </Dialog>
  );
}
