"""A page on this machine only, for entering walls: it draws them as they are typed and plans them.

``document`` is the opened job file with its history; ``merge`` puts a change where it belongs when the file has moved
on; ``reading`` says what the page shows of it at once; ``sketch`` draws what is sound of it and plans it quickly;
``background`` does that, and whole plans, in other processes; ``guard`` refuses what does not come from the page;
``server`` puts these together. ``static`` is what the browser loads.
"""
