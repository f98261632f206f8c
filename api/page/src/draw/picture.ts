/** Reading a picture, and keeping it in this browser. Nothing of it is sent anywhere. */

import { isPlace } from "./backing";
import type { Place } from "./backing";

/** A picture that can not be laid under the sheet; the message says why. */
export class NoPicture extends Error {}

export interface Picture {
  blob: Blob; // PNG or JPEG
  width: number;
  height: number;
  pages: number; // of the PDF that it is from; 1 of a picture
  page: number;
}

const MOST_PIXELS = 2600; // px: the longer side that is kept
const LARGEST = 64 * 1024 * 1024;

/** Read a PNG, a JPEG, or one page of a PDF. */
export async function readPicture(file: File, page = 1): Promise<Picture> {
  if (file.size > LARGEST) throw new NoPicture(`${file.name} is larger than this page reads.`);
  const isPdf = file.type === "application/pdf" || file.name.toLowerCase().endsWith(".pdf");
  return isPdf ? readPdf(file, page) : readImage(file);
}

async function readImage(file: File): Promise<Picture> {
  let bitmap: ImageBitmap;
  try {
    bitmap = await createImageBitmap(file);
  } catch {
    throw new NoPicture(`${file.name} is no picture that this browser can show: take a PNG, a JPEG or a PDF.`);
  }
  const share = Math.min(1, MOST_PIXELS / Math.max(bitmap.width, bitmap.height));
  const canvas = sized(bitmap.width * share, bitmap.height * share);
  canvas.getContext("2d")!.drawImage(bitmap, 0, 0, canvas.width, canvas.height);
  bitmap.close();
  return { blob: await blobOf(canvas), width: canvas.width, height: canvas.height, pages: 1, page: 1 };
}

function sized(width: number, height: number): HTMLCanvasElement {
  const canvas = document.createElement("canvas");
  [canvas.width, canvas.height] = [Math.max(1, Math.round(width)), Math.max(1, Math.round(height))];
  return canvas;
}

function blobOf(canvas: HTMLCanvasElement): Promise<Blob> {
  return new Promise((done, fail) => canvas.toBlob((blob) => (blob ? done(blob) : fail(new NoPicture("This browser could not keep the picture."))), "image/jpeg", 0.85));
}

async function readPdf(file: File, number: number): Promise<Picture> {
  const pdf = await import("pdfjs-dist");
  // On the page's own thread: a worker would need a looser policy than the page has.
  (globalThis as Record<string, unknown>)["pdfjsWorker"] ??= await import("pdfjs-dist/build/pdf.worker.mjs");
  const data = new Uint8Array(await file.arrayBuffer());
  try {
    const task = pdf.getDocument({ data, disableFontFace: true, useSystemFonts: false, isEvalSupported: false, useWasm: false, useWorkerFetch: false, stopAtErrors: false, enableXfa: false, verbosity: 0 });
    const book = await task.promise;
    const page = await book.getPage(Math.min(Math.max(number, 1), book.numPages));
    const plain = page.getViewport({ scale: 1 });
    const viewport = page.getViewport({ scale: MOST_PIXELS / Math.max(plain.width, plain.height) });
    const canvas = sized(viewport.width, viewport.height);
    await page.render({ canvas, viewport, background: "#ffffff" }).promise;
    const found = { blob: await blobOf(canvas), width: canvas.width, height: canvas.height, pages: book.numPages, page: page.pageNumber };
    await task.destroy();
    return found;
  } catch (error) {
    if (error instanceof NoPicture) throw error;
    throw new NoPicture(`${file.name} is no PDF that can be read here${(error as Error).name === "PasswordException" ? ": it is locked" : ""}.`);
  }
}

// --- kept in this browser ------------------------------------------------------------------------

const BASE = "layoutcheck page";
const SHELF = "backing";

export interface Kept {
  of: string; // the file that it belongs to
  blob: Blob;
  place: Place;
}

function base(): Promise<IDBDatabase> {
  return new Promise((done, fail) => {
    const asked = indexedDB.open(BASE, 1);
    asked.onupgradeneeded = () => void asked.result.createObjectStore(SHELF);
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => fail(asked.error);
  });
}

async function onShelf(mode: IDBTransactionMode, use: (shelf: IDBObjectStore) => IDBRequest): Promise<unknown> {
  try {
    const opened = await base();
    return await new Promise<unknown>((done, fail) => {
      const asked = use(opened.transaction(SHELF, mode).objectStore(SHELF));
      asked.onsuccess = () => done(asked.result);
      asked.onerror = () => fail(asked.error);
    }).finally(() => opened.close());
  } catch {
    return undefined; // a browser that keeps nothing: the picture goes with the page
  }
}

export async function keepPicture(kept: Kept | null): Promise<void> {
  await onShelf("readwrite", (shelf) => (kept ? shelf.put(kept, "one") : shelf.delete("one")));
}

export async function keptPicture(of: string): Promise<Kept | null> {
  const found = (await onShelf("readonly", (shelf) => shelf.get("one"))) as Kept | undefined;
  return found && found.of === of && found.blob instanceof Blob && isPlace(found.place) ? found : null;
}

// --- beside a layout in a saved file, only where somebody asks for it ----------------------------

/** What a saved file holds of a picture. */
export interface SavedPicture {
  picture: string; // "data:image/jpeg;base64,…"
  place: Place;
}

export async function saved(kept: Kept): Promise<SavedPicture> {
  const bytes = new Uint8Array(await kept.blob.arrayBuffer());
  let text = "";
  for (let i = 0; i < bytes.length; i += 0x8000) text += String.fromCharCode(...bytes.subarray(i, i + 0x8000));
  return { picture: `data:${kept.blob.type};base64,${btoa(text)}`, place: kept.place };
}

export function fromSaved(data: unknown): Omit<Kept, "of"> | null {
  const found = data as Partial<SavedPicture> | null;
  const parts = typeof found?.picture === "string" ? /^data:(image\/(?:png|jpeg));base64,([A-Za-z0-9+/=]+)$/.exec(found.picture) : null;
  if (!parts || !isPlace(found!.place)) return null;
  const text = atob(parts[2]!);
  const bytes = Uint8Array.from(text, (c) => c.charCodeAt(0));
  return { blob: new Blob([bytes], { type: parts[1]! }), place: found!.place };
}
