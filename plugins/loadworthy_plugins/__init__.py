"""The checks that come with loadworthy, one package each, found like anybody else's plugins."""
