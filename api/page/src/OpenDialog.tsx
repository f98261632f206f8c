/** Open a file, or one of the invented sites. */

import type { VNode } from "preact";
import { useEffect, useState } from "preact/hooks";
import { READS, Unreadable, demoSites, readDemo, readFiles } from "./files";
import type { DemoSite, Opened } from "./files";
import { fromSaved, keepPicture } from "./draw/picture";
import { Dialog } from "./parts";
import { store } from "./store";

export interface Trouble {
  says: string;
  rows: string[];
}

/** Open what was read; tells what stood in the way, or what an import left to fill in. */
export async function openFrom(read: () => Promise<Opened>): Promise<Trouble | null> {
  try {
    const { layout, name, notes, backing } = await read();
    const picture = fromSaved(backing ?? null);
    if (picture) await keepPicture({ of: name, ...picture });
    store.open(layout, name);
    return notes.length ? { says: "Imported. Look these over, and fill in what the file did not tell:", rows: notes } : null;
  } catch (error) {
    if (error instanceof Unreadable && error.text !== null) {
      store.openText({ ...error.text, own: false });
      return null;
    }
    if (error instanceof Unreadable) return { says: error.message, rows: error.rows };
    return { says: "The file could not be fetched: the service does not answer.", rows: [] };
  }
}

interface Props {
  onClose: () => void;
  onTrouble: (trouble: Trouble | null) => void;
  onNew: () => void;
}

export function OpenDialog({ onClose, onTrouble, onNew }: Props): VNode {
  const [sites, setSites] = useState<DemoSite[]>([]);
  useEffect(() => {
    demoSites().then(setSites, () => setSites([]));
  }, []);
  const open = (read: () => Promise<Opened>): void => {
    void openFrom(read).then((trouble) => {
      onTrouble(trouble);
      onClose();
    });
  };
  return (
    <Dialog title="Open" onClose={onClose}>
      <p class="begin">
        <button
          type="button"
          class="main"
          onClick={() => {
            onClose();
            onNew();
          }}
        >
          Draw a new site
        </button>
      </p>
      <label class="picker">
        <span>A file of yours: a layout (JSON, YAML), a model (IFC), a drawing (DXF with its map), a network (INP), or sheets (CSV in a .zip). You can also drop it anywhere on the page. This service reads and judges it; it is kept in this browser only.</span>
        <input
          type="file"
          accept={READS}
          multiple
          onChange={(event) => {
            const files = [...(event.currentTarget.files ?? [])];
            if (files.length) open(() => readFiles(files));
          }}
        />
      </label>
      <h3>Invented sites to try</h3>
      <ul class="sites">
        {[...new Set(sites.map((site) => site.name))].map((name) => (
          <li key={name}>
            <span>
              {name} <small>{sites.find((s) => s.name === name)!.pipes} pipes</small>
            </span>
            {sites
              .filter((s) => s.name === name)
              .sort((a, b) => Number(a.mended) - Number(b.mended))
              .map((site) => (
                <button key={site.file} type="button" onClick={() => open(() => readDemo(site.file))}>
                  {site.mended ? "Mended" : "Sketch"}
                  <span class="unseen"> of {name}</span>
                </button>
              ))}
          </li>
        ))}
      </ul>
    </Dialog>
  );
}
