/** What a rule asks, and why. */

import type { VNode } from "preact";
import { useEffect, useState } from "preact/hooks";
import { Dialog } from "./parts";
import { Silence, manual } from "./service";
import type { Manual } from "./types";

export function RuleManual({ rule, onClose }: { rule: string; onClose: () => void }): VNode {
  const [found, setFound] = useState<Manual | string | null>(null);
  useEffect(() => {
    manual(rule).then(setFound, (error) =>
      setFound(error instanceof Silence ? "The service does not answer, so its manual can not be read now." : "The service has no manual of this rule."),
    );
  }, [rule]);
  return (
    <Dialog title={`Rule ${rule}`} onClose={onClose}>
      {found === null && <p>Asking…</p>}
      {typeof found === "string" && <p role="alert">{found}</p>}
      {found !== null && typeof found === "object" && <Told manual={found} />}
    </Dialog>
  );
}

function Told({ manual: told }: { manual: Manual }): VNode {
  return (
    <>
      <p>
        {told.summary} <em>{told.severity}{told.waivable ? "" : ", can not be waived"}</em>
      </p>
      <dl>
        {told.parts.map((part) => (
          <div key={part.heading}>
            <dt>{part.heading}</dt>
            <dd>{part.text}</dd>
          </div>
        ))}
      </dl>
      {told.figures.length > 0 && <h3>Figures in force</h3>}
      <ul>
        {told.figures.map((figure) => (
          <li key={figure.key}>
            <strong>{figure.in_force}</strong> {figure.meaning} <em>({figure.source})</em>
          </li>
        ))}
      </ul>
    </>
  );
}
