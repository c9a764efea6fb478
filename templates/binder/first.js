// Before anything is laid out: only the part that is looked at will be.
document.documentElement.classList.add("js");
