"""The product range: oils joined over campaigns."""
