import { hydrate, mount } from "svelte";
import "./look.css";
import App from "./App.svelte";
import { dress, prefs, tellServer } from "./prefs.svelte";
import { language, speak } from "./text";

dress();
tellServer();
// A language that cannot be fetched leaves the page in English. Nothing is awaited
// here: a language's file may rest on this one, and each would wait for the other.
speak(prefs.language)
  .catch(() => {})
  .then(() => {
    const target = document.getElementById("page")!;
    // The first page may stand there already; it is taken over as it is.
    const stands = target.dataset.first === language;
    delete target.dataset.first;
    if (stands) return hydrate(App, { target });
    target.replaceChildren();
    return mount(App, { target });
  });
