import { mount } from "svelte";
import "./look.css";
import App from "./App.svelte";
import { dress, prefs } from "./prefs.svelte";
import { speak } from "./text";

dress();
// A language that cannot be fetched leaves the page in English.
await speak(prefs.language).catch(() => {});
mount(App, { target: document.getElementById("page")! });
