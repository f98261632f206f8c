/** What outlives a reload, a locked screen and an empty battery: everything that was tapped. */

import type { Layout } from "../layout.ts";
import type { Entry } from "./entries.ts";
import type { Plan } from "./plan.ts";

/** One freeze on this phone. name and secret: by what a second phone follows, and who may write. */
export interface Watch {
  name: string;
  secret: string;
  plan: Plan;
  layout: Layout;
  by: string;
  active: 0 | 1;
  shared: boolean;
}

const PLACE = "layoutcheck watch";

function done<T>(request: IDBRequest<T>): Promise<T> {
  return new Promise((give, fail) => {
    request.onsuccess = () => give(request.result);
    request.onerror = () => fail(request.error);
  });
}

export class Keep {
  private constructor(private readonly db: IDBDatabase) {}

  static async open(): Promise<Keep> {
    const asked = indexedDB.open(PLACE, 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("watches", { keyPath: "name" });
      asked.result.createObjectStore("entries", { keyPath: ["watch", "id"] });
      asked.result.createObjectStore("photos", { keyPath: ["watch", "name"] });
    };
    const db = await done(asked);
    db.onversionchange = () => db.close();
    return new Keep(db);
  }

  /** The freeze that is under way. */
  async active(): Promise<Watch | null> {
    const all = (await done(this.db.transaction("watches").objectStore("watches").getAll())) as Watch[];
    return all.find((w) => w.active === 1) ?? null;
  }

  async put(watch: Watch): Promise<void> {
    await this.write("watches", (store) => store.put(watch));
  }

  /** Keep an entry for good before this ends; one that is there already stays as it is. */
  async add(watch: string, entry: Entry): Promise<void> {
    await this.write("entries", (store) => addOnce(store, { watch, id: entry.id, entry }));
  }

  async entries(watch: string): Promise<Entry[]> {
    const range = IDBKeyRange.bound([watch], [watch, []]);
    const rows = (await done(this.db.transaction("entries").objectStore("entries").getAll(range))) as { entry: Entry }[];
    return rows.map((row) => row.entry);
  }

  async addPhoto(watch: string, name: string, photo: Blob): Promise<void> {
    await this.write("photos", (store) => store.put({ watch, name, photo }));
  }

  async photo(watch: string, name: string): Promise<Blob | null> {
    const row = (await done(this.db.transaction("photos").objectStore("photos").get([watch, name]))) as { photo: Blob } | undefined;
    return row?.photo ?? null;
  }

  /** "strict": written to the phone's storage itself, for a battery that ends a moment later. */
  private write(name: string, act: (store: IDBObjectStore) => void): Promise<void> {
    return new Promise((give, fail) => {
      const transaction = this.db.transaction(name, "readwrite", { durability: "strict" });
      transaction.oncomplete = () => give();
      transaction.onabort = () => fail(transaction.error);
      act(transaction.objectStore(name));
    });
  }
}

function addOnce(store: IDBObjectStore, row: unknown): void {
  const request = store.add(row);
  request.onerror = (event) => {
    if (request.error?.name !== "ConstraintError") return;
    event.preventDefault(); // it is there: from another tab, or from a second tap
    event.stopPropagation();
  };
}

/** Digits at random, that nobody guesses. */
export function randomDigits(bytes = 16): string {
  return [...crypto.getRandomValues(new Uint8Array(bytes))].map((b) => b.toString(16).padStart(2, "0")).join("");
}
