/** The drawing's marks as SVG. Drawn again only when the scene is a new one. */

import { Component } from "preact";
import type { VNode } from "preact";
import { isDimension, isOwnMark, labelsAt, marksOf } from "./marks";
import type { Owned, Shown } from "./marks";
import type { Drawing, Glyph, Point, Shape, Stroke, Words } from "./types";

interface Props {
  drawing: Drawing;
  hidden: ReadonlySet<string>; // plugs whose own marks stand elsewhere by now
  k: number; // px of a drawing unit
}

const STEP = 1.1; // the nearness at which labels are laid out goes by such steps

const stepOf = (k: number): number => Math.floor(Math.log(k) / Math.log(STEP) + 1e-9);

export class Scene extends Component<Props> {
  override shouldComponentUpdate(next: Props): boolean {
    const { drawing, hidden, k } = this.props;
    return next.drawing !== drawing || !sameSet(next.hidden, hidden) || stepOf(next.k) !== stepOf(k);
  }

  override render(): VNode {
    const { drawing, hidden, k } = this.props;
    const strays = [...hidden];
    // Dimensions tell of where plugs stood: they come back with the next drawing.
    const isStale = (owned: Owned): boolean => strays.length > 0 && (isDimension(owned) || strays.some((plug) => isOwnMark(owned, plug)));
    const marks = marksOf(drawing).filter((owned) => !isStale(owned));
    const shown = labelsAt(marks, STEP ** stepOf(k));
    return <g class={`scene${shown.size ? " far" : ""}`} aria-hidden="true">{marks.map((owned) => markOf(owned, drawing, shown))}</g>;
  }
}

function sameSet(a: ReadonlySet<string>, b: ReadonlySet<string>): boolean {
  return a.size === b.size && [...a].every((x) => b.has(x));
}

const slug = (role: string): string => `m-${role.replaceAll(" ", "-")}`;

function markOf({ mark }: Owned, drawing: Drawing, shown: Shown): VNode | null {
  const at = shown.get(mark);
  if (at === null) return null;
  if (mark.kind === "words" && at) return wordsOf({ ...mark, ...at });
  if (mark.kind === "stroke") return strokeOf(mark);
  if (mark.kind === "glyph") return glyphOf(mark, drawing.scene.glyphs[mark.form] ?? []);
  return wordsOf(mark);
}

export const listed = (points: Point[]): string => points.map(([x, y]) => `${x.toFixed(2)},${y.toFixed(2)}`).join(" ");

function strokeOf(mark: Stroke): VNode {
  const points = listed(mark.points);
  const look = `${slug(mark.role)}${mark.closed ? " area" : ""}`;
  return mark.closed ? <polygon class={look} points={points} /> : <polyline class={look} points={points} />;
}

/** A symbol with its shapes turned and sized; one that would stand upside down is mirrored upright. */
function glyphOf(mark: Glyph, shapes: Shape[]): VNode {
  return <g class={`${slug(mark.role)} glyph`}>{shapesOf(mark, shapes)}</g>;
}

type Standing = Pick<Glyph, "at" | "angle" | "size" | "form">;

export function shapesOf(mark: Standing, shapes: Shape[]): VNode[] {
  return shapes.map((shape) => {
    const points = shape.points.map((p) => turned(mark, p));
    const look = mark.form === "ring" ? "none" : shape.fill;
    if (shape.radius !== null) {
      const [x, y] = points[0]!;
      return <circle class={`f-${look}`} cx={x} cy={y} r={shape.radius * mark.size} />;
    }
    const line = listed(points);
    return shape.closed ? <polygon class={`f-${look}`} points={line} /> : <polyline class="f-none" points={line} />;
  });
}

function turned(mark: Standing, [px, py]: Point): Point {
  const angle = (((mark.angle + 180) % 360) + 360) % 360 - 180;
  const y = Math.abs(angle) > 90.5 ? -py : py;
  const turn = (angle * Math.PI) / 180;
  const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
  return [mark.at[0] + mark.size * (px * cos - y * sin), mark.at[1] + mark.size * (px * sin + y * cos)];
}

function wordsOf(mark: Words): VNode {
  return (
    <text
      class={`${slug(mark.role)} words${mark.bold ? " bold" : ""}`}
      x={mark.at[0]}
      y={mark.at[1]}
      font-size={mark.size}
      text-anchor={mark.anchor}
    >
      {mark.text}
    </text>
  );
}
