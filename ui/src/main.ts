import { mount } from "svelte";
import "./look.css";
import App from "./App.svelte";
import { dress, prefs } from "./prefs.svelte";
import { speak } from "./text";

dress();
// A language that cannot be fetched leaves the page in English. Nothing is awaited
// here: a language's file may rest on this one, and each would wait for the other.
speak(prefs.language)
  .catch(() => {})
  .then(() => {
    const target = document.getElementById("page")!;
    target.replaceChildren();
    mount(App, { target });
  });
