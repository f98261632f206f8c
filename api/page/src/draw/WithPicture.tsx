/** Saving the picture under the sheet with the layout: only where somebody asks for it. */

import type { VNode } from "preact";
import { useEffect, useState } from "preact/hooks";
import { saveWithPicture } from "../files";
import type { Layout } from "../layout";
import { keptPicture, saved } from "./picture";
import type { Kept } from "./picture";

export function WithPicture({ layout, fileName }: { layout: Layout; fileName: string }): VNode | null {
  const [kept, setKept] = useState<Kept | null>(null);
  useEffect(() => {
    void keptPicture(fileName).then(setKept);
  }, [layout, fileName]);
  if (!kept) return null;
  return (
    <li>
      <button type="button" onClick={() => void keptPicture(fileName).then(async (now) => now && saveWithPicture(layout, await saved(now), fileName))}>
        Layout with its picture, for this page
      </button>
    </li>
  );
}
