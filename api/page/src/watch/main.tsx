import { render } from "preact";
import type { VNode } from "preact";
import { watchKey } from "../key";
import type { KeyWanted } from "../key";
import { KeyDialog } from "../KeyDialog";
import { First } from "./First";
import { Freeze } from "./Freeze";
import { Out } from "./Out";
import { allowSound, keepPage, stayAwake } from "./phone";
import { store } from "./store";
import { Steps, Ticks } from "./Ticks";
import { Write } from "./Write";
import { Wrong } from "./Wrong";
import "../look.css";
import "./watch.css";

const TICK = 500; // ms

let wanted: KeyWanted | null = null;

function Watch(): VNode {
  const { view, state, plan } = store.known;
  if (wanted) return <KeyDialog wanted={wanted} />;
  if (view.screen === "first") return <First />;
  if (!state || !plan) return <Freeze />;
  // Air over a limit and a clock in doubt come before everything else.
  if (state.doubt && view.screen !== "wrong" && !store.known.following) return <Freeze />;
  if (view.screen === "ticks") return <Ticks />;
  if (view.screen === "steps") return <Steps />;
  if (view.screen === "write") return <Write />;
  if (view.screen === "wrong") return <Wrong />;
  return view.screen === "out" ? <Out /> : <Freeze />;
}

const root = document.getElementById("watch")!;
const draw = (): void => render(<Watch />, root);
store.onChange(draw);
watchKey((asked) => {
  wanted = asked;
  draw();
});
addEventListener("pointerdown", allowSound, { once: true });
addEventListener("hashchange", () => location.reload());
draw();
stayAwake();
void keepPage().then((kept) => store.set({ kept }));
void store.open().then(() => setInterval(() => store.tick(), TICK));
