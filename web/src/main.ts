import { mount } from 'svelte';
import App from './App.svelte';
import './app.css';
import './entry/entry.css';
import { settings } from './state/settings.svelte';

settings.begin();
const target = document.getElementById('page');
if (target) mount(App, { target });
