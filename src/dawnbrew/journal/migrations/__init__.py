"""Steps from one version of a journal's tables to the next, each as it was once and never changed."""
