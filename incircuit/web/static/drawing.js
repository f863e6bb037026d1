import { $, fill, h } from "./dom.js";
import { on, state } from "./state.js";
void [$, fill, h, on, state];
