import { render } from "preact";
import { App } from "./App";
import "./look.css";

render(<App />, document.getElementById("page")!);
